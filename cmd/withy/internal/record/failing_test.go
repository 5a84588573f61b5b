package record

import (
	"sync"
	"testing"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// failing is SQLite's own way to the disk with one difference: the writes, syncs,
// truncations and deletions that a test asks for fail.
var failing struct {
	sync.Mutex
	calls   int // since the test began to count
	first   int // the call that fails; 0: none
	forGood bool
	torn    bool  // half of a write that fails is written
	code    int32 // what a failure is called
	real    uintptr
	methods map[uintptr]uintptr // to ours, by the real ones
	last    string              // what failed last
}

// at is what SQLite has at an address, which is none of Go's memory.
func at[T any](address uintptr) *T { return *(**T)(unsafe.Pointer(&address)) }

// failures lets writes fail from here on: the first-th call, or all from there on.
// With first 0 calls are only counted.
func failures(first int, forGood, torn bool, code int32) {
	failing.Lock()
	defer failing.Unlock()
	failing.calls, failing.first, failing.forGood, failing.torn, failing.code = 0, first, forGood, torn, code
}

// failed counts a call and returns whether it fails, and how.
func failed(what string) (code int32, torn bool) {
	failing.Lock()
	defer failing.Unlock()
	failing.calls++
	if failing.first == 0 || failing.calls < failing.first || failing.calls > failing.first && !failing.forGood {
		return sqlite3.SQLITE_OK, false
	}
	failing.last = what
	return failing.code, failing.torn
}

// useFailing lets the records of a test be kept by way of failing.
func useFailing(t *testing.T) {
	t.Helper()
	failures(0, false, false, 0)
	registerFailing.Do(func() {
		tls := libc.NewTLS()
		name := func(s string) uintptr {
			p, err := libc.CString(s)
			must(t, err)
			return p
		}
		failing.real = sqlite3.Xsqlite3_vfs_find(tls, name(vfs))
		failing.methods = map[uintptr]uintptr{}
		ours := libc.Xmalloc(tls, libc.Tsize_t(unsafe.Sizeof(sqlite3.Tsqlite3_vfs{})))
		shim := at[sqlite3.Tsqlite3_vfs](ours)
		*shim = *at[sqlite3.Tsqlite3_vfs](failing.real)
		shim.FzName, shim.FpNext = name("failing"), 0
		*(*func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32)(unsafe.Pointer(&shim.FxOpen)) = failingOpen
		*(*func(*libc.TLS, uintptr, uintptr, int32) int32)(unsafe.Pointer(&shim.FxDelete)) = failingDelete
		if rc := sqlite3.Xsqlite3_vfs_register(tls, ours, 0); rc != sqlite3.SQLITE_OK {
			t.Fatal("SQLite takes no other way to the disk:", rc)
		}
	})
	was := vfs
	vfs = "failing"
	t.Cleanup(func() { vfs = was })
}

var registerFailing sync.Once

func failingOpen(tls *libc.TLS, _, path, file uintptr, flags int32, out uintptr) int32 {
	if flags&sqlite3.SQLITE_OPEN_CREATE != 0 {
		if code, _ := failed("open"); code != 0 {
			// SQLite looks whether there is something to close.
			at[sqlite3.Tsqlite3_file](file).FpMethods = 0
			return sqlite3.SQLITE_CANTOPEN
		}
	}
	real := at[sqlite3.Tsqlite3_vfs](failing.real)
	rc := (*(*func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32)(unsafe.Pointer(&real.FxOpen)))(tls, failing.real, path, file, flags, out)
	if f := at[sqlite3.Tsqlite3_file](file); rc == sqlite3.SQLITE_OK && f.FpMethods != 0 {
		f.FpMethods = failingMethods(tls, f.FpMethods)
	}
	return rc
}

// failingMethods returns a file's methods with ours in the place of some. Ours find
// the real ones behind them.
func failingMethods(tls *libc.TLS, real uintptr) uintptr {
	failing.Lock()
	defer failing.Unlock()
	if ours, ok := failing.methods[real]; ok {
		return ours
	}
	size := unsafe.Sizeof(sqlite3.Tsqlite3_io_methods{})
	ours := libc.Xmalloc(tls, libc.Tsize_t(size+unsafe.Sizeof(real)))
	m := at[sqlite3.Tsqlite3_io_methods](ours)
	*m = *at[sqlite3.Tsqlite3_io_methods](real)
	*at[uintptr](ours + size) = real
	*(*func(*libc.TLS, uintptr, uintptr, int32, int64) int32)(unsafe.Pointer(&m.FxWrite)) = failingWrite
	*(*func(*libc.TLS, uintptr, int64) int32)(unsafe.Pointer(&m.FxTruncate)) = failingTruncate
	*(*func(*libc.TLS, uintptr, int32) int32)(unsafe.Pointer(&m.FxSync)) = failingSync
	failing.methods[real] = ours
	return ours
}

func realMethods(file uintptr) *sqlite3.Tsqlite3_io_methods {
	ours := at[sqlite3.Tsqlite3_file](file).FpMethods
	return *at[*sqlite3.Tsqlite3_io_methods](ours + unsafe.Sizeof(sqlite3.Tsqlite3_io_methods{}))
}

func failingWrite(tls *libc.TLS, file, from uintptr, n int32, at int64) int32 {
	code, torn := failed("write")
	if code != sqlite3.SQLITE_OK && !torn {
		return code
	}
	if torn {
		n /= 2
	}
	write := (*(*func(*libc.TLS, uintptr, uintptr, int32, int64) int32)(unsafe.Pointer(&realMethods(file).FxWrite)))
	if rc := write(tls, file, from, n, at); rc != sqlite3.SQLITE_OK {
		return rc
	}
	return code
}

func failingTruncate(tls *libc.TLS, file uintptr, size int64) int32 {
	if code, _ := failed("truncate"); code != sqlite3.SQLITE_OK {
		return sqlite3.SQLITE_IOERR_TRUNCATE
	}
	return (*(*func(*libc.TLS, uintptr, int64) int32)(unsafe.Pointer(&realMethods(file).FxTruncate)))(tls, file, size)
}

func failingSync(tls *libc.TLS, file uintptr, flags int32) int32 {
	if code, _ := failed("sync"); code != sqlite3.SQLITE_OK {
		return sqlite3.SQLITE_IOERR_FSYNC
	}
	return (*(*func(*libc.TLS, uintptr, int32) int32)(unsafe.Pointer(&realMethods(file).FxSync)))(tls, file, flags)
}

func failingDelete(tls *libc.TLS, _, path uintptr, dir int32) int32 {
	if code, _ := failed("delete"); code != sqlite3.SQLITE_OK {
		return sqlite3.SQLITE_IOERR_DELETE
	}
	real := at[sqlite3.Tsqlite3_vfs](failing.real)
	return (*(*func(*libc.TLS, uintptr, uintptr, int32) int32)(unsafe.Pointer(&real.FxDelete)))(tls, failing.real, path, dir)
}
