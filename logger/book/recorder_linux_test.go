//go:build linux && (amd64 || arm64) && !race

package book

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// A recorder is a file layer of SQLite that hands everything on to the system's and
// writes down what changes files, in order, so that a power cut at any moment can
// be played afterwards. It is not built with the race detector, whose pointer checks
// take SQLite's memory, which is not that of Go, for a mistake.
type recorder struct {
	mu   sync.Mutex
	ops  []fileOp
	open map[uintptr]openFile // by SQLite's file object
	// beforeSync, if not nil, is called before each sync: a slow disk.
	beforeSync func()
}

// openFile is a file that SQLite has open.
type openFile struct {
	name  string
	layer *ioLayer
}

// fileOp is one change of a file, or a promise between them.
type fileOp struct {
	kind fileOpKind
	file string
	off  int64
	data []byte
	// promised is up to which number readings are promised from here on.
	promised int
}

type fileOpKind byte

const (
	opWrite fileOpKind = iota
	opTruncate
	opSync
	opDelete
	opPromise
)

const recorderName = "recorder"

// What follows is called by SQLite; it needs fixed places in memory.
var (
	recording   = &recorder{open: map[uintptr]openFile{}}
	systemVFS   sqlite3.Tsqlite3_vfs
	recorderVFS sqlite3.Tsqlite3_vfs
	// layers are by the system's methods, of which there are several sets: files
	// with locks, and files without.
	layers      [8]ioLayer
	registerVFS sync.Once
)

// ioLayer is a set of the system's methods with ours in front.
type ioLayer struct {
	at             uintptr // the system's
	system, before sqlite3.Tsqlite3_io_methods
}

type (
	openFunc     func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32
	deleteFunc   func(*libc.TLS, uintptr, uintptr, int32) int32
	writeFunc    func(*libc.TLS, uintptr, uintptr, int32, int64) int32
	truncateFunc func(*libc.TLS, uintptr, int64) int32
	syncFunc     func(*libc.TLS, uintptr, int32) int32
)

// pointer is what SQLite calls a function by, and function the way back.
func pointer[F any](f F) uintptr  { return *(*uintptr)(unsafe.Pointer(&struct{ f F }{f})) }
func function[F any](p uintptr) F { return *(*F)(unsafe.Pointer(&struct{ p uintptr }{p})) }
func address[T any](v *T) uintptr { return uintptr(unsafe.Pointer(v)) }
func copyTo[T any](tls *libc.TLS, v *T, p uintptr) {
	libc.Xmemcpy(tls, address(v), p, libc.Tsize_t(unsafe.Sizeof(*v)))
}

// useRecorder registers the layer and empties it.
func useRecorder(t *testing.T) *recorder {
	t.Helper()
	registerVFS.Do(func() {
		tls := libc.NewTLS()
		copyTo(tls, &systemVFS, sqlite3.Xsqlite3_vfs_find(tls, 0))
		recorderVFS = systemVFS
		name, err := libc.CString(recorderName)
		must(t, err)
		recorderVFS.FzName, recorderVFS.FpNext = name, 0
		recorderVFS.FxOpen, recorderVFS.FxDelete = pointer[openFunc](recordedOpen), pointer[deleteFunc](recordedDelete)
		if code := sqlite3.Xsqlite3_vfs_register(tls, address(&recorderVFS), 0); code != sqlite3.SQLITE_OK {
			t.Fatal("register: ", code)
		}
	})
	recording.mu.Lock()
	defer recording.mu.Unlock()
	recording.ops, recording.beforeSync = nil, nil
	return recording
}

func recordedOpen(tls *libc.TLS, vfs, name, file uintptr, flags int32, out uintptr) int32 {
	code := function[openFunc](systemVFS.FxOpen)(tls, vfs, name, file, flags, out)
	if code != sqlite3.SQLITE_OK || name == 0 {
		return code
	}
	var methods uintptr
	copyTo(tls, &methods, file)
	layer := layerOf(tls, methods)
	before := address(&layer.before)
	libc.Xmemcpy(tls, file, address(&before), libc.Tsize_t(unsafe.Sizeof(before)))
	recording.mu.Lock()
	defer recording.mu.Unlock()
	recording.open[file] = openFile{filepath.Base(libc.GoString(name)), layer}
	return code
}

// layerOf puts our methods before a set of the system's.
func layerOf(tls *libc.TLS, methods uintptr) *ioLayer {
	recording.mu.Lock()
	defer recording.mu.Unlock()
	for i := range layers {
		l := &layers[i]
		if l.at == methods {
			return l
		}
		if l.at != 0 {
			continue
		}
		copyTo(tls, &l.system, methods)
		l.at, l.before = methods, l.system
		l.before.FxWrite = pointer[writeFunc](recordedWrite)
		l.before.FxTruncate = pointer[truncateFunc](recordedTruncate)
		l.before.FxSync = pointer[syncFunc](recordedSync)
		return l
	}
	panic("more sets of methods than there is room for")
}

// note writes an operation down and returns the methods of the system.
func (r *recorder) note(file uintptr, op fileOp) *sqlite3.Tsqlite3_io_methods {
	r.mu.Lock()
	defer r.mu.Unlock()
	opened := r.open[file]
	if op.file == "" {
		op.file = opened.name
	}
	r.ops = append(r.ops, op)
	if opened.layer == nil {
		return nil
	}
	return &opened.layer.system
}

// promise notes up to which number readings are committed.
func (r *recorder) promise(number int) {
	r.note(0, fileOp{kind: opPromise, file: "-", promised: number})
}

func recordedWrite(tls *libc.TLS, file, buffer uintptr, n int32, off int64) int32 {
	system := recording.note(file, fileOp{kind: opWrite, off: off, data: append([]byte(nil), libc.GoBytes(buffer, int(n))...)})
	return function[writeFunc](system.FxWrite)(tls, file, buffer, n, off)
}

func recordedTruncate(tls *libc.TLS, file uintptr, size int64) int32 {
	system := recording.note(file, fileOp{kind: opTruncate, off: size})
	return function[truncateFunc](system.FxTruncate)(tls, file, size)
}

func recordedSync(tls *libc.TLS, file uintptr, flags int32) int32 {
	recording.mu.Lock()
	slow := recording.beforeSync
	recording.mu.Unlock()
	if slow != nil {
		slow()
	}
	system := recording.note(file, fileOp{kind: opSync})
	return function[syncFunc](system.FxSync)(tls, file, flags)
}

func recordedDelete(tls *libc.TLS, vfs, name uintptr, syncFolder int32) int32 {
	recording.note(0, fileOp{kind: opDelete, file: filepath.Base(libc.GoString(name))})
	return function[deleteFunc](systemVFS.FxDelete)(tls, vfs, name, syncFolder)
}

// disk is what is on the medium.
type disk map[string][]byte

func (d disk) apply(op fileOp, part func(sector int) bool) {
	switch op.kind {
	case opTruncate:
		d[op.file] = append([]byte(nil), d[op.file][:min(int(op.off), len(d[op.file]))]...)
	case opDelete:
		delete(d, op.file)
	case opWrite:
		const sector = 512
		for begin := 0; begin < len(op.data); begin += sector {
			if part != nil && !part(begin/sector) {
				continue
			}
			end := min(begin+sector, len(op.data))
			have := d[op.file]
			if grow := int(op.off) + end - len(have); grow > 0 {
				have = append(have, make([]byte, grow)...)
			}
			copy(have[int(op.off)+begin:], op.data[begin:end])
			d[op.file] = have
		}
	}
}

// cut plays a power cut after the first n changes: what was forced to the disk is
// there, of the rest some writes, whole or torn at sectors of 512 bytes, in any
// order. Unforced tells whether the sync with that index is one that the disk
// acknowledged without doing it.
func cut(ops []fileOp, n int, random *rand.Rand, unforced func(i int) bool) (d disk, promised int) {
	d, promised = disk{}, -1
	last := map[string]int{} // the last real sync of each file
	for i, op := range ops[:n] {
		switch {
		case op.kind == opSync && !unforced(i):
			last[op.file] = i
		case op.kind == opPromise:
			promised = op.promised
		}
	}
	for i, op := range ops[:n] {
		forced, ok := last[op.file]
		switch {
		case ok && i < forced || op.kind == opDelete:
			d.apply(op, nil)
		case random.IntN(3) == 0: // lost
		case op.kind == opWrite && random.IntN(2) == 0:
			d.apply(op, func(int) bool { return random.IntN(2) == 0 })
		default:
			d.apply(op, nil)
		}
	}
	return d, promised
}

// write puts the files into a folder and returns the book's path.
func (d disk) write(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	for name, content := range d {
		must(t, os.WriteFile(filepath.Join(folder, name), content, 0o600))
	}
	return filepath.Join(folder, "bench.book")
}
