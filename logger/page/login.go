package page

import (
	"net/http"
	"reflect"
	"time"
)

// LoginRequest proves that a browser's owner knows the token.
type LoginRequest struct {
	Token string `json:"token"`
}

// LoginView says until when a browser is let in.
type LoginView struct {
	Until time.Time `json:"until"`
}

const loginPath = "/api/v1/login"

func (s *Server) loginRoutes() []route {
	return []route{
		{method: http.MethodPost, path: loginPath, about: "Lets a browser in: the answer sets a cookie that scripts cannot read.",
			takes: reflect.TypeFor[LoginRequest](), gives: reflect.TypeFor[LoginView](), status: http.StatusOK, serve: s.login},
		{method: http.MethodPost, path: "/api/v1/logout", about: "Takes the cookie away.",
			takes: reflect.TypeFor[Nothing](), gives: reflect.TypeFor[Nothing](), status: http.StatusOK, serve: s.logout},
	}
}

// login gives a cookie for the token. Where the bench has none, nobody is asked.
func (s *Server) login(w http.ResponseWriter, r *http.Request) {
	var request LoginRequest
	if !read(w, r, &request) {
		return
	}
	if !s.token.set {
		refuse(w, http.StatusConflict, "this bench has no token: nobody needs to log in")
		return
	}
	if !s.attempt(w, r, request.Token) {
		return
	}
	until := time.Now().Add(cookieLife).Truncate(time.Second)
	http.SetCookie(w, cookie(s.token.pass(until), r.TLS != nil))
	give(w, r, http.StatusOK, LoginView{Until: until}, nil)
}

func (s *Server) logout(w http.ResponseWriter, r *http.Request) {
	if !read(w, r, &Nothing{}) {
		return
	}
	http.SetCookie(w, cookie("", r.TLS != nil))
	give(w, r, http.StatusOK, Nothing{}, nil)
}

// attempt takes a token that somebody says; whoever has said wrong ones for a
// while is not heard. It says what is wrong.
func (s *Server) attempt(w http.ResponseWriter, r *http.Request, given string) bool {
	from := hostOf(r.RemoteAddr)
	if wait := s.attempts.wait(from, time.Now()); wait > 0 {
		tooMany(w, wait, "too many wrong tokens have come from there")
		return false
	}
	if !s.token.is(given) {
		s.attempts.take(from, time.Now())
		s.log.Warn("a wrong token", "from", from)
		w.Header().Set("WWW-Authenticate", `Bearer realm="soakline"`)
		refuse(w, http.StatusUnauthorized, "that is not the token")
		return false
	}
	return true
}
