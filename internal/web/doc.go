// Package web serves the workbench: the pages a surgeon, a nurse and an auditor
// live in, and the API with the same permissions.
//
// # How a request goes
//
//	request
//	   │  security.go   headers, content policy, size limit, cross-site refusal
//	   │  access.go     session → visitor; the rule of the route decides
//	   ▼
//	handler             parses, calls record, store and sciences, renders
//	   │  render.go     templates with the visitor's language and theme
//	   │  fault.go      one function answers every error
//	   ▼
//	page
//
// A handler is a function of a visitor that returns an error. It holds no rule
// of the trade: what is valid stands in package record, what a number is in the
// sciences.
//
// # Routes and rules
//
// Every route stands in the table of routes.go with the act it needs (package
// account), or as open to the world or to everybody who is signed in. A route
// without a rule cannot be served: [New] fails. Pages that show who somebody is
// need ReadIdentity; the auditor's pages need ReadDeIdentified alone and never
// read a table that identifies.
//
// # What holds on every page
//
//   - It works without script wherever nothing is drawn by hand; scripts are
//     modules under /assets, the content policy forbids all others, and styles
//     inline too.
//   - Nothing is loaded from elsewhere. Assets carry the hash of their content in
//     their address and are cached for ever; pages are never stored by caches.
//   - Text is looked up by its English words (see words.go), so that another
//     language is a file and not a change of the code.
//   - Cautions stand in the foot, a demonstration says so in the head.
//
// # Assumptions
//
// Behind a proxy the remote address is the proxy's unless Config.RemoteHeader
// names the header that only the proxy can set. Cookies are marked secure when
// Config.Secure says that people come over encrypted connections; on a loopback
// address they do not.
package web
