package storetest

import (
	"cmp"
	"errors"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// guardian makes and runs a cluster in the folder $1 with the programs of the folder $2,
// until its input ends. That happens at the latest when the test process does, however
// it ends; then the server is stopped and the folder removed. Options after the folders
// go to the server. Nothing needs to survive a crash of the machine.
const guardian = `
dir=$1 bin=$2; shift 2
(
	"$bin/initdb" -D "$dir/data" -U postgres -A trust --no-sync -E UTF8 --locale=C --no-instructions || { : >"$dir/failed"; exit; }
	"$bin/postgres" -D "$dir/data" -k "$dir" -h "" "$@" &
	echo $! >"$dir/pid"
	wait $! || : >"$dir/failed"
) >"$dir/log" 2>&1 &
read -r end || :
if [ -s "$dir/pid" ]; then kill -INT "$(cat "$dir/pid")"; else kill -TERM $!; fi
wait $!
rm -rf "$dir"
`

var serverOptions = []string{"-c", "fsync=off", "-c", "full_page_writes=off", "-c", "synchronous_commit=off", "-c", "autovacuum=off", "-c", "max_connections=200"}

// fromBinaries runs a throw-away cluster on a unix socket.
func fromBinaries() (*server, error) {
	bin, err := programs()
	if err != nil {
		return nil, err
	}
	attr := &syscall.SysProcAttr{Setpgid: true} // a Ctrl-C at the tests must not end the guardian first
	uid, gid := -1, -1
	if os.Geteuid() == 0 { // which the server refuses to run as
		if uid, gid, err = other(); err != nil {
			return nil, err
		}
		attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	}
	dir, err := shortFolder()
	if err != nil {
		return nil, err
	}
	if err := os.Chown(dir, uid, gid); err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	cmd := exec.Command("sh", append([]string{"-c", guardian, "guardian", dir, bin}, serverOptions...)...)
	cmd.Dir, cmd.SysProcAttr = dir, attr
	input, err := cmd.StdinPipe()
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	if err := cmd.Start(); err != nil {
		return nil, none("the programs in %s cannot be started: %v", bin, errors.Join(err, os.RemoveAll(dir)))
	}
	end := func() error {
		err := errors.Join(input.Close(), cmd.Wait())
		return errors.Join(err, os.RemoveAll(dir))
	}
	if err := up(dir); err != nil {
		return nil, none("the programs in %s run no server: %v", bin, errors.Join(err, end()))
	}
	query := url.Values{"host": {dir}, "user": {"postgres"}, "sslmode": {"disable"}}
	return &server{url: "postgres:///postgres?" + query.Encode(), patience: 10 * time.Second, end: end}, nil
}

// up waits until the socket of the server is there.
func up(dir string) error {
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(dir, ".s.PGSQL.5432")); err == nil {
			return nil
		}
		if _, err := os.Stat(filepath.Join(dir, "failed")); err == nil {
			break
		}
	}
	log, err := os.ReadFile(filepath.Join(dir, "log"))
	lines := strings.Split(strings.TrimSpace(string(log)), "\n")
	return errors.Join(err, errors.New(lines[len(lines)-1]))
}

// programs returns the folder that holds initdb and postgres: that of initdb on PATH,
// seen through links, or the newest of Debian's.
func programs() (string, error) {
	var folders []string
	if path, err := exec.LookPath("initdb"); err == nil {
		if path, err = filepath.EvalSymlinks(path); err == nil {
			folders = append(folders, filepath.Dir(path))
		}
	}
	debian, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	if err != nil {
		return "", err
	}
	version := func(folder string) int {
		n, _ := strconv.Atoi(filepath.Base(filepath.Dir(folder)))
		return n
	}
	slices.SortFunc(debian, func(a, b string) int { return cmp.Compare(version(b), version(a)) })
	for _, folder := range append(folders, debian...) {
		_, noInitdb := exec.LookPath(filepath.Join(folder, "initdb"))
		_, noPostgres := exec.LookPath(filepath.Join(folder, "postgres"))
		if noInitdb == nil && noPostgres == nil {
			return folder, nil
		}
	}
	return "", none("no initdb and postgres on PATH")
}

// other is a user who is not root.
func other() (uid, gid int, err error) {
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, uidErr := strconv.Atoi(u.Uid)
		gid, gidErr := strconv.Atoi(u.Gid)
		return uid, gid, errors.Join(uidErr, gidErr)
	}
	return 0, 0, none("the server does not run as root, and there is no user postgres or nobody")
}

// socketRoom is how long the path of a folder may be for a socket in it: addresses of
// unix sockets hold 104 bytes on some systems, 108 on Linux.
const socketRoom = 104 - len("/.s.PGSQL.5432") - 1

// shortFolder makes a temporary folder with a path that is short enough for a socket.
func shortFolder() (string, error) {
	for _, base := range []string{os.TempDir(), "/tmp"} {
		dir, err := os.MkdirTemp(base, "sabinbook-pg-")
		if err != nil {
			return "", err
		}
		if len(dir) <= socketRoom {
			return dir, nil
		}
		if err := os.Remove(dir); err != nil {
			return "", err
		}
	}
	return "", none("no folder for temporary files has a path of at most %d bytes", socketRoom)
}
