package porttest

import (
	"net"
	"testing"
	"time"
)

// Server is a serial server on loopback TCP that serves one program at a time.
type Server struct {
	FarEnd
	listener *net.TCPListener
}

// NewServer listens on a free port of the loopback interface.
func NewServer(t testing.TB) *Server {
	t.Helper()
	listener, err := net.ListenTCP("tcp", &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatalf("serial server: %v", err)
	}
	s := &Server{FarEnd: FarEnd{t: t}, listener: listener}
	t.Cleanup(func() {
		s.Shut()
		s.end()
	})
	return s
}

// Address gives the address that a program opens.
func (s *Server) Address() string { return "tcp://" + s.listener.Addr().String() }

// Await waits for the program to connect, and serves it from now on.
func (s *Server) Await() {
	s.t.Helper()
	if err := s.listener.SetDeadline(time.Now().Add(patience)); err != nil {
		s.t.Fatalf("serial server: %v", err)
	}
	conn, err := s.listener.Accept()
	if err != nil {
		s.t.Fatalf("serial server: %v", err)
	}
	s.end()
	s.attach(conn.(*net.TCPConn))
}

// Drop closes the connection in use; the server goes on listening.
func (s *Server) Drop() { s.end() }

// Shut stops listening: new connections are refused.
func (s *Server) Shut() {
	// A second Shut finds it closed.
	_ = s.listener.Close()
}
