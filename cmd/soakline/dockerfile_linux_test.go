package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// instruction is one line of a Dockerfile, continued lines joined.
type instruction struct{ verb, rest string }

// stage is one stage of a Dockerfile.
type stage struct {
	base, name   string
	instructions []instruction
}

// stages reads a Dockerfile (Docker's Dockerfile reference, as much as is used).
func stages(t *testing.T, text string) []stage {
	t.Helper()
	var all []stage
	for line := range strings.Lines(strings.ReplaceAll(text, "\\\n", " ")) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		verb, rest, _ := strings.Cut(line, " ")
		if verb == "FROM" {
			base, name, _ := strings.Cut(rest, " AS ")
			all = append(all, stage{base: base, name: name})
			continue
		}
		if len(all) == 0 {
			t.Fatalf("%s before the first FROM", verb)
		}
		last := &all[len(all)-1]
		last.instructions = append(last.instructions, instruction{verb, strings.TrimSpace(rest)})
	}
	return all
}

// every gives what stands behind a verb, in order.
func (s stage) every(verb string) []string {
	var all []string
	for _, i := range s.instructions {
		if i.verb == verb {
			all = append(all, i.rest)
		}
	}
	return all
}

// words are those of an instruction in JSON form.
func words(t *testing.T, rest string) []string {
	t.Helper()
	var all []string
	if err := json.Unmarshal([]byte(rest[strings.Index(rest, "["):]), &all); err != nil {
		t.Fatalf("%s: %v", rest, err)
	}
	return all
}

// image is what the last stage of the Dockerfile makes, in a folder.
type image struct {
	root       string
	user       uint32
	workdir    string
	entrypoint []string
	command    []string
	health     []string
}

// TestDockerfile does without an engine what the Dockerfile says: the build stage's own
// command runs in a copy of what is sent as context, and the program runs as the
// image's user in a root that has nothing but what the last stage copies, read-only but
// for the volume. The stage of the page runs the Makefile's commands.
func TestDockerfile(t *testing.T) {
	text, err := os.ReadFile("../../Dockerfile")
	if err != nil {
		t.Fatal(err)
	}
	all := stages(t, string(text))
	if len(all) != 3 || all[0].name != "page" || all[1].name != "build" || all[2].base != "scratch" {
		t.Fatalf("stages %+v", all)
	}
	makefile, err := os.ReadFile("../../Makefile")
	if err != nil {
		t.Fatal(err)
	}
	for _, command := range all[0].every("RUN") {
		if !strings.Contains(string(makefile), command) {
			t.Errorf("the page is made by %q, which the Makefile does not run", command)
		}
	}
	out := buildStage(t, all[1])
	made := lastStage(t, all[2], out)
	runImage(t, made)
}

// buildStage runs the command of the build stage in a copy of the context and returns
// what it put into /out.
func buildStage(t *testing.T, s stage) string {
	t.Helper()
	context, out := filepath.Join(t.TempDir(), "src"), filepath.Join(t.TempDir(), "out")
	copyContext(t, context)
	commands := s.every("RUN")
	if len(commands) != 2 || commands[0] != "go mod download" { // the modules are here already
		t.Fatalf("commands %q", commands)
	}
	if !strings.Contains(commands[1], "CGO_ENABLED=0") {
		t.Errorf("%q may link to what the last stage does not have", commands[1])
	}
	cmd := exec.CommandContext(t.Context(), "sh", "-ec", strings.ReplaceAll(commands[1], "/out/", out+"/"))
	cmd.Dir, cmd.Env = context, append(os.Environ(), "VERSION=of-the-test", "GOFLAGS=-mod=readonly")
	if output, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", commands[1], err, output)
	}
	return out
}

// copyContext copies what git keeps and .dockerignore lets through, with the page that
// the first stage makes.
func copyContext(t *testing.T, to string) {
	t.Helper()
	list := exec.Command("git", "ls-files", "-z")
	list.Dir = "../.."
	output, err := list.Output()
	if err != nil {
		t.Fatalf("what the context has: %v", err)
	}
	rules, err := os.ReadFile("../../.dockerignore")
	if err != nil {
		t.Fatal(err)
	}
	for name := range strings.SplitSeq(strings.TrimSuffix(string(output), "\x00"), "\x00") {
		if ignored(string(rules), name) {
			continue
		}
		copyOne(t, filepath.Join("../..", name), filepath.Join(to, name))
	}
	copyTree(t, "../../logger/page/web/dist", filepath.Join(to, "logger/page/web/dist"))
}

// ignored tells whether .dockerignore keeps a file out: by its folder, or by a name
// anywhere in its path.
func ignored(rules, name string) bool {
	for rule := range strings.FieldsSeq(rules) {
		if anywhere, ok := strings.CutPrefix(rule, "**/"); ok && slices.Contains(strings.Split(name, "/"), anywhere) {
			return true
		}
		if name == rule || strings.HasPrefix(name, rule+"/") {
			return true
		}
	}
	return false
}

func copyOne(t *testing.T, from, to string) {
	t.Helper()
	text, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, text, info.Mode().Perm()); err != nil {
		t.Fatal(err)
	}
}

func copyTree(t *testing.T, from, to string) {
	t.Helper()
	real, err := filepath.EvalSymlinks(from)
	if err != nil {
		t.Fatalf("%s is copied into the image: %v", from, err)
	}
	err = filepath.WalkDir(real, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !entry.Type().IsRegular() {
			return err
		}
		inside, err := filepath.Rel(real, path)
		if err == nil {
			copyOne(t, path, filepath.Join(to, inside))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// lastStage puts together what the image has. What it takes from the base of the build
// stage is taken from this machine.
func lastStage(t *testing.T, s stage, out string) image {
	t.Helper()
	made := image{root: filepath.Join(t.TempDir(), "root")}
	user, group, _ := strings.Cut(s.every("USER")[0], ":")
	id, err := strconv.ParseUint(user, 10, 32)
	if err != nil || id == 0 || group != user {
		t.Fatalf("USER %q: a number above 0 that needs no list of users", s.every("USER"))
	}
	made.user = uint32(id)
	for _, rest := range s.every("COPY") {
		var owner string
		fields := slices.DeleteFunc(strings.Fields(rest), func(field string) bool {
			if value, ok := strings.CutPrefix(field, "--chown="); ok {
				owner = value
			}
			return strings.HasPrefix(field, "--")
		})
		from, to := fields[0], filepath.Join(made.root, fields[1])
		if inside, ok := strings.CutPrefix(from, "/out/"); ok {
			from = filepath.Join(out, inside)
		}
		if info, err := os.Stat(from); err != nil {
			t.Fatalf("COPY %s: %v", rest, err)
		} else if !info.IsDir() {
			copyOne(t, from, to)
			continue
		}
		if err := os.MkdirAll(to, 0o755); err != nil {
			t.Fatal(err)
		}
		copyTree(t, from, to)
		if owner != "" {
			give(t, to, made.user)
		}
	}
	made.workdir = s.every("WORKDIR")[0]
	made.entrypoint, made.command, made.health = words(t, s.every("ENTRYPOINT")[0]), words(t, s.every("CMD")[0]), words(t, s.every("HEALTHCHECK")[0])
	return made
}

// give makes a folder somebody's alone.
func give(t *testing.T, path string, user uint32) {
	t.Helper()
	if err := os.Chmod(path, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Chown(path, int(user), int(user)); err != nil {
		t.Fatalf("only root can give a file away, as an image does: %v", err)
	}
}

// in runs a command as the image would: its user, its root, its folder, no variable but
// those given.
func (i image) in(t *testing.T, env []string, command ...string) *exec.Cmd {
	cmd := exec.CommandContext(t.Context(), command[0], command[1:]...)
	cmd.Dir, cmd.Env = i.workdir, env
	cmd.SysProcAttr = &syscall.SysProcAttr{Chroot: i.root, Credential: &syscall.Credential{Uid: i.user, Gid: i.user, Groups: []uint32{}}}
	return cmd
}

// runImage mounts a bench where docker-compose.yml does and tries what a container does.
func runImage(t *testing.T, i image) {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("only root can change the root of a program; .ci/run does this as root")
	}
	i.readable(t)
	put := func(name, text string) {
		path := filepath.Join(i.root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("etc/soakline/bench.yaml", `bench: pier-end
book: /var/lib/soakline/bench.book
token_file: /run/secrets/soakline_token
sheets: [brambling-8]
instruments:
  - {name: meter, port: /dev/ttyUSB0, command_set: scpi-meter}
places:
  - name: left
    connections:
      - {test_point: rail-5v, instrument: meter, channel: 101}
`)
	put("run/secrets/soakline_token", "pier-token\n")
	said, err := i.in(t, nil, i.entrypoint[0], "version").Output()
	if err != nil || !bytes.Contains(said, []byte("of-the-test")) {
		t.Fatalf("version: %q (%v)", said, err)
	}
	address := freeAddress(t)
	var log bytes.Buffer
	daemon := i.in(t, []string{"SOAKLINE_LISTEN=" + address, "TZ=Europe/Berlin"}, append(slices.Clone(i.entrypoint), i.command...)...)
	daemon.Stderr = &log
	if err := daemon.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = daemon.Process.Kill() }) // it has mostly ended
	waitFor(t, "the daemon in the image", func() bool {
		answer, err := http.Get("http://" + address + "/healthz")
		return err == nil && answer.Body.Close() == nil
	})
	i.lookAt(t, address)
	if err := daemon.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := daemon.Wait(); err != nil {
		t.Errorf("stopped as an engine stops it: %v\n%s", err, log.String())
	}
	info, err := os.Stat(filepath.Join(i.root, i.workdir, "bench.book"))
	if err != nil || info.Mode().Perm() != 0o600 || info.Sys().(*syscall.Stat_t).Uid != i.user {
		t.Errorf("the book: %v (%v)", info, err)
	}
}

// readable opens the folders above the root, which a test keeps to itself.
func (i image) readable(t *testing.T) {
	t.Helper()
	for path := i.root; path != os.TempDir() && len(path) > 1; path = filepath.Dir(path) {
		if err := os.Chmod(path, 0o755); err != nil {
			t.Fatal(err)
		}
	}
}

// lookAt tries what a running container is asked.
func (i image) lookAt(t *testing.T, address string) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+address+"/metrics", nil)
	if err != nil {
		t.Fatal(err)
	}
	for token, want := range map[string]int{"": http.StatusUnauthorized, "pier-token": http.StatusOK} {
		request.Header.Set("Authorization", "Bearer "+token)
		answer, err := http.DefaultClient.Do(request)
		if err != nil || answer.StatusCode != want {
			t.Fatalf("/metrics with the token %q: %v (%v)", token, answer, err)
		}
		_ = answer.Body.Close()
	}
	program, bench := i.entrypoint[0], "/etc/soakline/bench.yaml"
	for _, row := range []struct {
		want int
		args []string
	}{
		{exitTrouble, i.health[1:]}, // no meter is plugged in here, which is all that is wrong
		{exitDone, []string{"unit", "add", "B8-0147", "--console", "Brambling 8", "--bench", bench}},
		{exitDone, []string{"book", "check", "--bench", bench}},
		{exitDone, []string{"book", "shrink", "--bench", bench}}, // there is no /tmp
		{exitDone, []string{"book", "backup", "copy.book", "--bench", bench}},
	} {
		output, err := i.in(t, nil, append([]string{program}, row.args...)...).CombinedOutput()
		if code := exitCode(err); code != row.want {
			t.Errorf("%v ended with %d, want %d:\n%s", row.args, code, row.want, output)
		}
		if row.want == exitTrouble && strings.Count(string(output), fmt.Sprintf("%-11s", wrong)) != 1 {
			t.Errorf("more than the meter is wrong:\n%s", output)
		}
	}
}
