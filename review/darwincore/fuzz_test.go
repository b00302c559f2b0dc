package darwincore

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// FuzzMeta: what is read of a description is one that can be written and read again.
func FuzzMeta(f *testing.F) {
	files, err := filepath.Glob("testdata/darwin_core/meta_xml/*.xml")
	require.NoError(f, err)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(string(text))
	}
	f.Fuzz(func(t *testing.T, text string) {
		meta, err := ReadMeta(strings.NewReader(text))
		if err != nil || meta.Core.ID < 0 {
			return
		}
		var b bytes.Buffer
		require.NoError(t, meta.Write(&b))
		again, err := ReadMeta(&b)
		require.NoError(t, err)
		require.Equal(t, len(meta.Core.Fields), len(again.Core.Fields))
		require.Equal(t, len(meta.Extensions), len(again.Extensions))
	})
}

// FuzzRows: reading ends, rows are numbered without gaps, and what was read can be written and read again.
func FuzzRows(f *testing.F) {
	for _, text := range []string{"a,b\n", "\"a\"\"b\",c\r\nx", "\"open\nb,c\n", "\xff,1\n", ",,\n\n,"} {
		f.Add(text, ",", "\n", `"`, 1)
	}
	f.Add("a|b;c|d;", "|", ";", "", 0)
	f.Fuzz(func(t *testing.T, text, terminated, ends, enclosed string, header int) {
		file := File{RowType: typeOccurrence, Terminated: terminated, Lines: ends, Enclosed: enclosed, Header: min(max(header, 0), 3)}
		if (&Meta{Core: file}).check() != nil {
			return
		}
		lines := rows(text, &file)
		for want := 1; ; want++ {
			fields, n, err := lines.Next()
			if err == io.EOF {
				return
			}
			require.Equal(t, want, n)
			if err != nil {
				continue
			}
			csv := rows(string(appendRow(nil, fields)), &File{Terminated: ",", Lines: "\n", Enclosed: `"`})
			again, _, err := csv.Next()
			if err == io.EOF { // a row of one empty field is an empty line
				require.Equal(t, []string{""}, fields)
				continue
			}
			if err == nil {
				require.Equal(t, fields, again)
			}
		}
	})
}

// FuzzArchive: whatever somebody sends is read or refused, within its bounds, and what comes in fits the fields that it comes into.
func FuzzArchive(f *testing.F) {
	f.Add(packedAs(f, "meta.xml", "<archive/>"))
	f.Add(foreign(f, "UTF-8", `\t`, "", "\t", func(s string) string { return s }))
	own, err := os.ReadFile("testdata/own.zip")
	require.NoError(f, err)
	f.Add(own)
	limits := Limits{Packed: 1 << 20, Unpacked: 1 << 20, Rows: 1000, Extensions: 1000}
	f.Fuzz(func(t *testing.T, data []byte) {
		a, err := Open(bytes.NewReader(data), int64(len(data)), limits)
		if err != nil {
			return
		}
		r, err := a.Read()
		if err != nil {
			return
		}
		_ = r.Each(func(in *review.Incoming) error { // whatever breaks it off is told to whoever sent it
			var p review.Problems
			in.Label.Check(&p)
			in.Withheld.Check(&p)
			require.NoError(t, p.Err())
			accepted := 0
			for _, s := range in.Slips {
				if s.Accepted {
					accepted++
				}
			}
			require.Equal(t, min(len(in.Slips), 1), accepted)
			return nil
		})
	})
}
