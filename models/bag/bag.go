// Package bag keeps files with their digests in a folder from which every change shows: a bag as RFC 8493, "The BagIt File
// Packaging Format (V1.0)", has it. Archives and museums have programs of their own that check such folders, and so has
// every system that has sha256sum: run in a bag, sha256sum -c manifest-sha256.txt looks at all files.
package bag

import (
	"bufio"
	"bytes"
	"fmt"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Names of RFC 8493, section 2.
const (
	declarationFile = "bagit.txt"
	infoFile        = "bag-info.txt"
	manifestFile    = "manifest-sha256.txt"
	tagManifestFile = "tagmanifest-sha256.txt"
	payload         = "data"

	declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
)

// Labels of bag-info.txt (section 2.2.2) that this package gives itself.
const (
	LabelDate = "Bagging-Date"
	LabelOxum = "Payload-Oxum"
)

// Label is a line of bag-info.txt.
type Label struct{ Name, Value string }

// sums are SHA-256 digests, in hex, by the name of a file, with slashes, from the bag's folder.
type sums map[string]string

// text is the manifest: a line a file, in order of names.
func (s sums) text() []byte {
	var b bytes.Buffer
	for _, name := range slices.Sorted(maps.Keys(s)) {
		fmt.Fprintf(&b, "%s  %s\n", s[name], name)
	}
	return b.Bytes()
}

// parseSums reads a manifest. It refuses names that lead out of the bag and digests that are none.
func parseSums(file string, text []byte) (sums, error) {
	found := sums{}
	lines := bufio.NewScanner(bytes.NewReader(text))
	for n := 1; lines.Scan(); n++ {
		sum, name, _ := strings.Cut(lines.Text(), " ")
		name = strings.TrimLeft(name, " *")
		if !isSum(sum) || checkName(name) != nil {
			return nil, fmt.Errorf("line %d of %s is no digest and name: %q", n, file, lines.Text())
		}
		if _, twice := found[name]; twice {
			return nil, fmt.Errorf("line %d of %s names %s again", n, file, name)
		}
		found[name] = strings.ToLower(sum)
	}
	return found, lines.Err()
}

func isSum(text string) bool {
	return len(text) == 64 && strings.Trim(text, "0123456789abcdefABCDEF") == ""
}

// checkName refuses names that lead out of the bag, and the signs that a manifest would have to disguise (section 2.1.3).
func checkName(name string) error {
	if name == "" || name != path.Clean(name) || !filepath.IsLocal(filepath.FromSlash(name)) || strings.ContainsAny(name, "\r\n%\\") {
		return fmt.Errorf("%q is no name of a file in a bag", name)
	}
	return nil
}
