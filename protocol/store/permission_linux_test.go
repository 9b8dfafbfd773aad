package store

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
)

// asNobody does something without the rights of root, which no permission binds.
func asNobody(do func()) {
	done := make(chan bool)
	go func() { // on a thread that ends with it
		defer close(done)
		runtime.LockOSThread()
		if os.Getuid() == 0 {
			syscall.RawSyscall(syscall.SYS_SETFSUID, 65534, 0, 0)
		}
		do()
	}()
	<-done
}

func TestLostPermission(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(filepath.Dir(dir), 0o755); err != nil {
		t.Fatal(err)
	}
	mustWrite(t, dir, "log", "one\n")
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	asNobody(func() {
		if _, err := Lock(dir, "record"); err == nil || err.Error() != dir+" cannot be written to: permission denied; nothing was written: check the folder, its permissions and the space left" {
			t.Errorf("%v", err)
		}
		if err := Write(dir, File{Name: "log", Data: []byte("two\n")}); err == nil || !strings.HasSuffix(err.Error(), "log was not written and is as it was: permission denied; check the folder, its permissions and the space left") {
			t.Errorf("%v", err)
		}
		if err := os.WriteFile(dir+"/x", nil, 0o644); err == nil {
			t.Error("the folder can be written to after all")
		}
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir+"/log", 0o400); err != nil {
		t.Fatal(err)
	}
	asNobody(func() {
		if err := Append(dir, "log", 4, []byte("two\n")); err == nil || !strings.Contains(err.Error(), "was not written and is as it was: permission denied") {
			t.Errorf("%v", err)
		}
		if os.Getuid() == 0 { // the owner may read it
			if _, err := Read(dir, "log", 100); err == nil || err.Error() != "log was not read: permission denied; check its permissions" {
				t.Errorf("%v", err)
			}
		}
	})
	if data, err := Read(dir, "log", 100); string(data) != "one\n" {
		t.Errorf("%q, %v", data, err)
	}
}
