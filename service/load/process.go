package load

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// Usage is what a process used.
type Usage struct {
	CPU    time.Duration // of all its threads
	Memory int64         // bytes resident; the most that was seen
}

func (u Usage) less(before Usage) Usage { return Usage{u.CPU - before.CPU, u.Memory} }

// Process is a running process, seen through /proc; nil is one that cannot be seen.
type Process struct {
	ID      int
	command *exec.Cmd
}

var self = &Process{ID: os.Getpid()}

// tick is the kernel's unit of CPU time in /proc, USER_HZ: 100 on every Linux
// that Go runs on.
const tick = 10 * time.Millisecond

// usage reads what the process used so far; zero where it cannot be seen.
func (p *Process) usage() Usage {
	if p == nil {
		return Usage{}
	}
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.ID))
	if err != nil {
		return Usage{}
	}
	// proc(5): after "pid (name)", utime and stime are fields 14 and 15, rss is 24.
	f := bytes.Fields(stat[bytes.LastIndexByte(stat, ')')+1:])
	if len(f) < 22 {
		return Usage{}
	}
	number := func(i int) int64 { n, _ := strconv.ParseInt(string(f[i-3]), 10, 64); return n }
	return Usage{CPU: time.Duration(number(14)+number(15)) * tick, Memory: number(24) * int64(os.Getpagesize())}
}

// watch waits for the group and returns the most memory that was seen by then.
func (p *Process) watch(ctx context.Context, group *sync.WaitGroup) (peak int64) {
	done := make(chan struct{})
	go func() { group.Wait(); close(done) }()
	look := time.NewTicker(500 * time.Millisecond)
	defer look.Stop()
	for {
		select {
		case <-done:
			return peak
		case <-look.C:
			peak = max(peak, p.usage().Memory)
		}
	}
}

// Server is a child process that serves.
type Server struct {
	Process
	GRPC, HTTP string // addresses; HTTP is empty when it does not serve it
}

// startTime is how long a child may take to say where it listens.
const startTime = 30 * time.Second

// Start runs a program with arguments that make it print "gRPC  ADDRESS" and,
// where http is wanted, "HTTP  http://ADDRESS". What it says on its standard
// error goes to log.
func Start(ctx context.Context, log io.Writer, http bool, program string, args ...string) (*Server, error) {
	s := &Server{}
	s.command = exec.CommandContext(ctx, program, args...) //nolint:gosec // G204: our own program, with the caller's arguments
	s.command.Stderr = log
	out, err := s.command.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := s.command.Start(); err != nil {
		return nil, err
	}
	s.ID = s.command.Process.Pid
	said := make(chan error, 1)
	go func() { said <- s.hear(out, http) }()
	timer := time.NewTimer(startTime)
	defer timer.Stop()
	select {
	case err = <-said:
	case <-timer.C:
		err = errors.New("it did not say where it listens")
	}
	if err != nil {
		s.Kill()
		return nil, fmt.Errorf("%s %s: %w", program, strings.Join(args, " "), err)
	}
	return s, nil
}

// hear reads the addresses, and then everything else so that the child never waits.
func (s *Server) hear(out io.Reader, http bool) error {
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		name, address, _ := strings.Cut(lines.Text(), "  ")
		switch name {
		case "gRPC":
			s.GRPC = address
		case "HTTP":
			s.HTTP = strings.TrimPrefix(address, "http://")
		}
		if s.GRPC != "" && (s.HTTP != "" || !http) {
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return nil
		}
	}
	return errors.New("it ended")
}

// Kill ends the process at once.
func (s *Server) Kill() {
	_ = s.command.Process.Kill()
	_ = s.command.Wait()
}

// Stop asks the process to end and waits.
func (s *Server) Stop() {
	_ = s.command.Process.Signal(syscall.SIGTERM)
	_ = s.command.Wait()
}

// Signal sends a signal.
func (s *Server) Signal(sig os.Signal) error { return s.command.Process.Signal(sig) }
