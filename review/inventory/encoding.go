package inventory

import (
	"bytes"
	"errors"
	"fmt"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// encodings by the names of review.InventoryEncodings. In each of the last four any byte is a letter: nothing but a look at the text
// tells them apart.
var encodings = map[string]encoding.Encoding{
	"utf-8":        unicode.UTF8,
	"utf-16le":     unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM),
	"utf-16be":     unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM),
	"windows-1252": charmap.Windows1252,
	"iso-8859-15":  charmap.ISO8859_15,
	"macintosh":    charmap.Macintosh,
	"ibm850":       charmap.CodePage850,
}

// marks that a text begins with (The Unicode Standard, section 23.8).
var marks = []struct {
	mark []byte
	name string
}{{[]byte("\xef\xbb\xbf"), "utf-8"}, {[]byte("\xff\xfe"), "utf-16le"}, {[]byte("\xfe\xff"), "utf-16be"}}

// decode makes text of bytes in the wanted encoding, or in one that is found out. sure: it is marked, or no other one fits.
func decode(data []byte, wanted string) (text, name string, sure bool, err error) {
	name, sure = wanted, wanted != ""
	if wanted == "" {
		name, sure = encodingOf(data)
	}
	e, known := encodings[name]
	if !known {
		return "", "", false, fmt.Errorf("the encoding %q is not known here", name)
	}
	for _, m := range marks {
		if m.name == name {
			data = bytes.TrimPrefix(data, m.mark)
		}
	}
	if name == "utf-8" { // what is no text of it is told row by row
		return string(bytes.ToValidUTF8(data, []byte("\ufffd"))), name, sure, nil
	}
	decoded, err := e.NewDecoder().Bytes(data)
	if err != nil {
		return "", "", false, fmt.Errorf("it is not %s: %w", name, err)
	}
	if bytes.IndexByte(decoded, 0) >= 0 {
		return "", "", false, errors.New("it holds bytes that no text has")
	}
	return string(decoded), name, sure, nil
}

// encodingOf finds out which it is: a mark, zero bytes where UTF-16 has them, UTF-8 where all of it is that. Everything else is
// Windows-1252, which programs for tables have written most of.
func encodingOf(data []byte) (name string, sure bool) {
	for _, m := range marks {
		if bytes.HasPrefix(data, m.mark) {
			return m.name, true
		}
	}
	head := data[:min(len(data), 4096)]
	var zeros [2]int
	for i, b := range head {
		if b == 0 {
			zeros[i%2]++
		}
	}
	const share = 3 // of two bytes of Latin letters one is zero; a third of them is enough
	switch {
	case zeros[1] > len(head)/2/share && zeros[1] > zeros[0]:
		return "utf-16le", true
	case zeros[0] > len(head)/2/share:
		return "utf-16be", true
	case utf8.Valid(data):
		return "utf-8", true
	}
	return "windows-1252", false
}
