package protocol

import (
	"io/fs"
)

// A Watch is told how far a long work is; nil: nobody watches. It only looks: what is
// computed does not depend on it.
type Watch func(done, total int64)

func (w Watch) see(done, total int) {
	if w != nil {
		w(int64(done), int64(total))
	}
}

// A watchedFS tells how much of the files of a folder was read.
type watchedFS struct {
	fs.FS
	watch       Watch
	done, total int64
}

// passes is how often a table is read: once to find its layout, once to index its
// rows, and once for the readings that are wanted. What is read less often makes the
// work end sooner than the watcher was told.
const passes = 3

// watchedFiles wraps a folder of files, whose sizes are known beforehand.
func watchedFiles(fsys fs.FS, dir string, watch Watch) fs.FS {
	if watch == nil {
		return fsys
	}
	w := &watchedFS{FS: fsys, watch: watch}
	_ = fs.WalkDir(fsys, dir, func(_ string, d fs.DirEntry, err error) error { // what cannot be read is told by the reading itself
		if err != nil || !d.Type().IsRegular() {
			return nil
		}
		if info, err := d.Info(); err == nil {
			w.total += passes * info.Size()
		}
		return nil
	})
	return w
}

// Open opens a file whose bytes are counted.
func (w *watchedFS) Open(name string) (fs.File, error) {
	f, err := w.FS.Open(name)
	if err != nil {
		return nil, err
	}
	if info, err := f.Stat(); err != nil || info.IsDir() {
		return f, nil // a folder lists itself
	}
	return &watchedFile{f, w}, nil
}

type watchedFile struct {
	fs.File
	w *watchedFS
}

func (f *watchedFile) Read(p []byte) (int, error) {
	n, err := f.File.Read(p)
	f.w.done += int64(n)
	f.w.watch(min(f.w.done, f.w.total), f.w.total)
	return n, err
}

// Seek goes on from another place, as readers of the files do.
func (f *watchedFile) Seek(offset int64, whence int) (int64, error) {
	s, ok := f.File.(interface {
		Seek(offset int64, whence int) (int64, error)
	})
	if !ok {
		return 0, fs.ErrInvalid
	}
	return s.Seek(offset, whence)
}
