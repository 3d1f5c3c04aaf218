package exchange

import (
	"cmp"
	"slices"

	"sabinbook/internal/catalog"
)

// File is one file of a package.
type File struct {
	Name string
	Data []byte
}

// Write makes the files of a package, in the order of their names. Equal snapshots give
// equal bytes, whatever the order of their lists.
func Write(s catalog.Snapshot) []File {
	var files []File
	all := tables()
	for _, t := range all {
		files = append(files, File{t.describe().file(), t.write(&s)})
	}
	files = append(files, File{descriptorName, descriptor(s.Revision, all, files)})
	slices.SortFunc(files, func(a, b File) int { return cmp.Compare(a.Name, b.Name) })
	return files
}
