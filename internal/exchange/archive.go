package exchange

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// Limits of an archive that is read. Convention: a catalog of a thousand materials takes
// some 2 MiB.
const (
	MaxEntries = 64
	// MaxUnpacked is the size of all files together.
	MaxUnpacked = 32 << 20
	// MaxLines is the number of lines of all tables together.
	MaxLines = 200_000
)

// entryTime is the time of every entry, the first that a zip can tell.
var entryTime = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// Archive packs files into a zip: in the given order, uncompressed, with one fixed time.
func Archive(files []File) []byte {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range files {
		entry, err := w.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Store, Modified: entryTime})
		if err == nil {
			_, err = entry.Write(f.Data)
		}
		if err != nil {
			panic(fmt.Sprintf("exchange: %v", err)) // a bytes.Buffer takes everything, and the names are ours
		}
	}
	if err := w.Close(); err != nil {
		panic(fmt.Sprintf("exchange: %v", err))
	}
	return out.Bytes()
}

// Open takes the files out of a zip, which may be compressed. The error is a *FaultyError:
// an archive is refused that is damaged, names files in folders, or unpacks into more
// than the limits of this package.
func Open(archive []byte) ([]File, error) {
	r, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if errors.Is(err, zip.ErrInsecurePath) {
		err = nil // named below
	}
	if err != nil {
		return nil, faulty("", "bad_archive", "is not a whole zip archive", "send the file as the export gave it; perhaps it was cut off")
	}
	if len(r.File) > MaxEntries {
		return nil, faulty("", "too_many_entries", fmt.Sprintf("holds %d entries, at most %d are allowed", len(r.File), MaxEntries), "pack the files of an export and nothing else")
	}
	var faults []Fault
	for _, f := range r.File {
		if f.Name == "" || strings.ContainsAny(f.Name, `/\:`) || f.Name == ".." {
			faults = append(faults, Fault{File: f.Name, Code: "path", Detail: "is in a folder", Fix: "pack the files themselves, without a folder around them"})
		}
	}
	if len(faults) > 0 {
		return nil, &FaultyError{faults}
	}
	var files []File
	left, lines := int64(MaxUnpacked), 0
	for _, f := range r.File {
		data, err := unpack(f, left)
		if err != nil {
			return nil, faulty(f.Name, "bad_archive", "cannot be unpacked: it is damaged or packed in an unknown way", "pack it again, compressed by deflate or not at all")
		}
		if left -= int64(len(data)); left < 0 {
			return nil, faulty(f.Name, "too_large", fmt.Sprintf("unpacks the archive to more than %d MiB", MaxUnpacked>>20), "a catalog of this size cannot be taken over at once")
		}
		if lines += bytes.Count(data, []byte("\n")); lines > MaxLines {
			return nil, faulty(f.Name, "too_many_lines", fmt.Sprintf("brings the tables to more than %d lines", MaxLines), "a catalog of this size cannot be taken over at once")
		}
		files = append(files, File{f.Name, data})
	}
	return files, nil
}

// unpack reads an entry, at most one byte more than limit: what it says of its size is not trusted.
func unpack(f *zip.File, limit int64) ([]byte, error) {
	in, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return io.ReadAll(io.LimitReader(in, limit+1))
}

func faulty(file, code, detail, fix string) error {
	return &FaultyError{[]Fault{{File: file, Code: code, Detail: detail, Fix: fix}}}
}
