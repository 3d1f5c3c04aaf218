package main

import (
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"sabinbook/store/storetest"
)

// asProgram holds arguments, one a line, with which the test binary is the program itself, so that a test
// can have real processes and kill them.
const asProgram = "SABINBOOK_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if args := os.Getenv(asProgram); args != "" {
		os.Args = append(os.Args[:1], strings.Split(args, "\n")...)
		main()
	}
	storetest.Main(m)
}

// ownProcess is the program with arguments, not yet started.
func ownProcess(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), asProgram+"="+strings.Join(args, "\n"))
	return cmd
}

// process is a service in a process of its own.
type process struct {
	*exec.Cmd
	url string
	err *pipe
}

// started starts a service on a database and waits for its address. It may be called from any goroutine;
// without an address the test has failed.
func started(t *testing.T, database string) *process {
	t.Helper()
	var out pipe
	p := &process{Cmd: ownProcess("serve", "--listen", "127.0.0.1:0", "--rate-limit", "0", "--database-url", database), err: new(pipe)}
	p.Stdout, p.Stderr = &out, p.err
	if err := p.Start(); err != nil {
		t.Error(err)
		return p
	}
	for deadline := time.Now().Add(time.Minute); !strings.HasSuffix(out.String(), "\n"); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Errorf("no address: %s", p.err)
			break
		}
	}
	p.url = strings.TrimSpace(out.String())
	return p
}

// stopped asks the process to end, and fails the test unless it ends well.
func (p *process) stopped(t *testing.T) {
	p.Process.Signal(syscall.SIGTERM)
	if err := p.Wait(); err != nil {
		t.Errorf("%v: %s", err, p.err)
	}
}

// killed ends the process as SIGKILL does, without a chance to tidy up, and waits until it is gone.
func (p *process) killed() {
	_ = p.Process.Kill() // one that has ended already is as good
	_ = p.Wait()
}
