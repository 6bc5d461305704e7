//go:build unix

package book

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func init() { parts["try"] = tryToOpen }

// tryToOpen says what comes of opening a book for writing and for reading.
func tryToOpen(path string, _ int) error {
	ctx := context.Background()
	if b, err := Open(ctx, path, Options{}); err != nil {
		fmt.Println("write:", err)
	} else {
		fmt.Println("write: opened", b.Close())
	}
	b, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		fmt.Println("read:", err)
		return nil
	}
	n, err := b.Count(ctx, Filter{})
	fmt.Println("read:", n, err)
	return b.Close()
}

// TestReadOnlyFolder: without the right to write in the folder a book can be read,
// and writing is refused with one line. The superuser may write everywhere, so the
// part is then played by a copy of the test binary without those rights.
func TestReadOnlyFolder(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "bench.book")
	fill(t, path, Options{})
	must(t, os.Remove(path+".lock"))
	must(t, os.Chmod(path, 0o444)) // #nosec G302 -- another user is to read it
	must(t, os.Chmod(folder, 0o555))
	must(t, os.Chmod(filepath.Dir(folder), 0o755))
	t.Cleanup(func() { must(t, os.Chmod(folder, 0o700)) })
	for _, test := range []struct{ name, write, read string }{
		{"bench.book", "open: no permission: lock file", "read: 4 <nil>"},
		{"new.book", "open: no permission: lock file", "open: no such book"},
	} {
		text, err := unprivileged(t, child(t, "try", filepath.Join(folder, test.name), 0)).Output()
		must(t, err)
		lines := strings.Split(strings.TrimSpace(string(text)), "\n")
		if len(lines) != 2 || !strings.Contains(lines[0], test.write) || !strings.Contains(lines[1], test.read) {
			t.Errorf("%s: got\n%swant %q and %q", test.name, text, test.write, test.read)
		}
	}
}

// unprivileged makes a command run as nobody if we are the superuser.
func unprivileged(t *testing.T, cmd *exec.Cmd) *exec.Cmd {
	t.Helper()
	if os.Getuid() != 0 {
		return cmd
	}
	folder := t.TempDir()
	must(t, os.Chmod(folder, 0o755))
	must(t, os.Chmod(filepath.Dir(folder), 0o755))
	from, err := os.Open(cmd.Path)
	must(t, err)
	defer from.Close()
	cmd.Path = filepath.Join(folder, "program")
	to, err := os.OpenFile(cmd.Path, os.O_CREATE|os.O_WRONLY, 0o755)
	must(t, err)
	_, err = io.Copy(to, from)
	must(t, err)
	must(t, to.Close())
	const nobody = 65534 // by custom
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	return cmd
}
