package web

import (
	"net/http"

	"limitans/internal/account"
	"limitans/internal/caution"
)

func (s *Server) aboutAPI() []endpoint {
	return []endpoint{
		gives("Program", "health", open(), "Whether the server and its record answer, for a monitor.", nil, s.health),
		gives("Program", "version", open(), "What answers, with the standing cautions.", nil, s.apiVersion),
		gives("Program", "me", anyone(), "Who is signed in, and what this account may do.", nil, s.me),
	}
}

// apiHealth says that the server answers.
type apiHealth struct {
	Status string `json:"status"` // ok; a server that cannot read its record answers with an error
}

func (s *Server) health(r *http.Request, _ *visitor) (apiHealth, error) {
	_, err := s.Store.Head(r.Context())
	return apiHealth{"ok"}, err
}

// apiVersion says what answers.
type apiVersion struct {
	Program string `json:"program"` // version of the program
	API     string `json:"api"`     // version of the API, as in its addresses
	// Demonstration: everybody in the record is invented.
	Demonstration bool     `json:"demonstration"`
	Cautions      []string `json:"cautions"`
}

func (s *Server) apiVersion(*http.Request, *visitor) (apiVersion, error) {
	return apiVersion{s.Program, apiVersionNumber, s.Gate.Mode().Demo, caution.Full()}, nil
}

// apiMe is the account that is signed in.
type apiMe struct {
	Account string         `json:"account"` // identifier of the account
	Name    string         `json:"name"`    // as others see it
	Roles   []account.Role `json:"roles"`
	May     []account.Act  `json:"may"` // what the account may do
}

func (s *Server) me(_ *http.Request, v *visitor) (apiMe, error) {
	out := apiMe{string(v.account.ID), v.account.ShownName, v.account.Roles, []account.Act{}}
	for _, act := range account.EveryAct() {
		if v.may(act) {
			out.May = append(out.May, act)
		}
	}
	return out, nil
}
