package judgement

import (
	"fmt"
	"strings"

	"github.com/stretchr/testify/require"
)

var bodyExceptions = []func(exceptions){
	/* 38 */ func(x exceptions) {
		x.mostly("Scarabaeidae", "ventrites=6")
		x.accepts("Scarabaeidae", "ventrites=5")
		for _, f := range strings.Fields("Trogidae Lucanidae Passalidae") {
			x.mostly(f, "ventrites=5")
		}
		x.mostly("Geotrupidae", "ventrites=6")
		x.allows("Geotrupidae", "ventrites=5")
	},
	/* 39 */ func(x exceptions) {
		for n := 6; n <= 8; n++ {
			x.accepts("Lampyridae", fmt.Sprint("ventrites=", n))
		}
	},
	/* 40 */ func(x exceptions) {
		for _, f := range strings.Fields("Cantharidae Lycidae") {
			for _, sex := range []string{" male", " female"} {
				x.accepts(f+sex, "ventrites=7")
				x.accepts(f+sex, "ventrites=8")
			}
		}
	},
	/* 41 */ func(x exceptions) {
		x.mostly("Carabidae", "ventrites=6")
		x.accepts("Carabidae", "ventrites=7", "elytra-cover=tip-exposed")
		x.allows("Carabidae", "ventrites=8", "elytra-cover=tip-exposed")
	},
	/* 42 */ func(x exceptions) {
		x.mostly("Elateridae", "ventrites=5")
		x.allows("Elateridae", "ventrites=6")
		require.Greater(x, x.share("Elateridae", "ventrites=6"), 0.0)
	},
	/* 43 */ func(x exceptions) {
		x.mostly("Hydrophilidae", "ventrites=5")
		x.allows("Hydrophilidae", "ventrites=6")
		x.accepts("Hydraenidae", "ventrites=6")
		x.accepts("Hydraenidae", "ventrites=7")
	},
	/* 44 */ func(x exceptions) {
		for _, f := range strings.Fields("Endomychidae Coccinellidae") {
			x.accepts(f, "ventrites=5")
			x.accepts(f, "ventrites=6")
		}
	},
	/* 45 */ func(x exceptions) {
		x.mostly("Meloidae", "ventrites=6")
		for _, f := range strings.Fields("Tenebrionidae Oedemeridae Anthicidae Melandryidae Salpingidae Zopheridae Mycetophagidae") {
			x.mostly(f, "ventrites=5")
		}
		x.mostly("Aderidae", "ventrites=4")
	},
	/* 46 */ func(x exceptions) {
		for _, form := range strings.Fields("scaphidiine scydmaenine") {
			require.Less(x, x.form("Staphylinidae", form, "elytra-cover=short"), 0.2, form)
		}
		require.Greater(x, x.form("Staphylinidae", "omaliine", "elytra-cover=tip-exposed"), 0.2)
		x.accepts("Staphylinidae", "elytra-cover=whole")
		x.accepts("Staphylinidae", "elytra-cover=tip-exposed")
		x.formMostly("Staphylinidae", "typical", "elytra-cover=short")
	},
	/* 47 */ func(x exceptions) {
		for _, f := range strings.Fields("Meloidae Cerambycidae Cantharidae Lymexylidae Nitidulidae Staphylinidae Phengodidae Micromalthidae") {
			x.allows(f, "elytra-cover=short", "pygidium=exposed")
		}
		x.mostly("Histeridae", "elytra-cover=tip-exposed")
		x.refuses("Dytiscidae", "elytra-cover=short")
	},
	/* 48 */ func(x exceptions) {
		for _, f := range strings.Fields("Lampyridae Phengodidae Lycidae Dermestidae Ripiphoridae Elateridae") {
			x.allows(f+" female", "elytra-cover=absent")
			require.Positive(x, x.share(f, "elytra-cover=absent"), f)
		}
		x.refuses("Carabidae female", "elytra-cover=absent")
	},
	/* 49 */ func(x exceptions) {
		x.accepts("Chrysomelidae", "pygidium=exposed")
		x.formMostly("Chrysomelidae", "bruchine", "pygidium=exposed")
		x.accepts("Scarabaeidae", "pygidium=covered")
		x.formMostly("Scarabaeidae", "aphodiine", "pygidium=covered")
	},
	/* 50 */ func(x exceptions) {
		x.allows("Chrysomelidae female", "elytra-cover=short", "pygidium=exposed")
		x.allows("Meloidae female", "elytra-cover=short", "pygidium=exposed")
	},
	/* 51 */ func(x exceptions) {
		x.accepts("Curculionidae", "rostrum=none")
		x.formMostly("Curculionidae", "scolytine", "rostrum=none")
		require.Greater(x, x.share("Curculionidae", "rostrum=long")+x.share("Curculionidae", "rostrum=short-broad"), 0.5)
	},
	/* 52 */ func(x exceptions) {
		x.accepts("Salpingidae", "rostrum=short-broad")
		x.allows("Lycidae", "rostrum=short-broad")
		x.allows("Lycidae", "rostrum=long")
		x.allows("Laemophloeidae", "rostrum=short-broad")
	},
	/* 53 */ func(x exceptions) {
		x.mostly("Gyrinidae", "eyes=divided")
		x.warns("Cerambycidae", "eyes=divided")
		x.mostly("Geotrupidae", "eyes=divided")
	},
	/* 54 */ func(x exceptions) {
		x.accepts("Lampyridae", "light-organ=absent")
		x.mostly("Lampyridae", "light-organ=present")
		x.accepts("Lampyridae", "head-from-above=partly-hidden")
		x.refuses("Cantharidae", "light-organ=present")
	},
	/* 55 */ func(x exceptions) {
		x.mostly("Dermestidae", "ocellus=one")
		x.accepts("Dermestidae", "ocellus=none")
	},
	/* 56 */ func(x exceptions) {
		x.formMostly("Bostrichidae", "powder-post", "head-from-above=visible")
		x.formMostly("Bostrichidae", "hooded", "head-from-above=hidden")
		x.accepts("Bostrichidae", "head-from-above=visible")
	},
	/* 57 */ func(x exceptions) {
		x.mostly("Elateridae", "prosternal-process=click-spine")
		x.allows("Elateridae", "prosternal-process=absent-or-short", "elytra-texture=soft")
		x.accepts("Eucnemidae", "prosternal-process=click-spine")
		x.refuses("Buprestidae", "prosternal-process=click-spine")
	},
	/* 58 */ func(x exceptions) {
		x.mostly("Carabidae", "head-width=narrower")
		x.formMostly("Carabidae", "cicindeline", "head-width=wider")
		x.accepts("Carabidae", "head-width=wider")
	},
}

var nameExceptions = []func(exceptions){
	/* 59 */ func(x exceptions) {
		x.resolves("Staphylinidae", "Silphidae")
		x.resolves("Carabidae", "Cicindelidae", "Rhysodidae", "Paussidae")
		x.resolves("Chrysomelidae", "Bruchidae")
		x.resolves("Curculionidae", "Scolytidae", "Platypodidae")
		x.resolves("Ptinidae", "Anobiidae")
		x.resolves("Bostrichidae", "Lyctidae")
		x.resolves("Tenebrionidae", "Alleculidae", "Lagriidae")
		x.resolves("Zopheridae", "Colydiidae", "Monommatidae")
		x.resolves("Erotylidae", "Languriidae")
		x.resolves("Brentidae", "Apionidae", "Nanophyidae")
		x.resolves("Attelabidae", "Rhynchitidae")
		x.resolves("Melyridae", "Malachiidae", "Dasytidae")
		x.resolves("Elateridae", "Drilidae")
	},
	/* 60 */ func(x exceptions) {
		for _, f := range strings.Fields(`Trogossitidae Peltidae Lophocateridae Thymalidae Endomychidae Anamorphidae Mycetaeidae
			Nitidulidae Kateretidae Cybocephalidae Geotrupidae Bolboceratidae Cucujidae Silvanidae Laemophloeidae Passandridae`) {
			family, remark, ok := x.j.tables.Resolve(f)
			require.True(x, ok, f)
			require.Equal(x, f, family.Name, "a family of its own")
			require.Empty(x, remark)
		}
		x.resolves("Endomychidae", "Eupsilobiidae")
	},
}
