package vault

import (
	"net"
	"net/url"
	"regexp"
	"strings"

	"limitans/fault"
)

// s3Address is where an object store is and which part of it is the vault.
type s3Address struct {
	bucket, prefix string
	endpoint       string // host and port
	secure         bool   // https
	region         string
}

// bucketNames are the names that S3 allows, without dots, which do not go with
// https certificates.
var (
	bucketNames = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{1,61}[a-z0-9]$`)
	prefixes    = regexp.MustCompile(`^[A-Za-z0-9._-]+(?:/[A-Za-z0-9._-]+)*$`)
	regions     = regexp.MustCompile(`^[a-z0-9-]{1,40}$`)
)

// parseS3Address reads s3://bucket/prefix?endpoint=https://host:port&region=name.
// No error quotes the address, because a person may have put a secret into it.
func parseS3Address(text string) (s3Address, error) {
	refuse := func(what, expected string) (s3Address, error) {
		return s3Address{}, &fault.Error{Code: fault.Invalid, Where: "address of the object store", What: what, Expected: expected}
	}
	const form = "s3://bucket/prefix?endpoint=https://host:port&region=name"
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "s3" || u.Opaque != "" || u.Fragment != "" {
		return refuse("it cannot be read", form)
	}
	if u.User != nil {
		return refuse("it has a user or a password in it, and addresses are printed and logged",
			"them in the environment: "+s3KeyVariable+" and "+s3SecretVariable)
	}
	a := s3Address{bucket: u.Host, prefix: strings.Trim(u.Path, "/"), endpoint: "s3.amazonaws.com", secure: true}
	if !bucketNames.MatchString(a.bucket) {
		return refuse("its bucket is not a bucket's name", "3 to 63 of the characters a-z 0-9 -")
	}
	if a.prefix != "" && (!prefixes.MatchString(a.prefix) || strings.Contains("/"+a.prefix+"/", "/../") || strings.Contains("/"+a.prefix+"/", "/./")) {
		return refuse("its prefix has characters that mean something else elsewhere", "letters, digits, . _ - and /")
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return refuse("what follows ? cannot be read", form)
	}
	for name, values := range query {
		if len(values) != 1 || name != "endpoint" && name != "region" {
			return refuse("after ? there is more than an endpoint and a region, once each",
				"secrets in the environment: "+s3KeyVariable+" and "+s3SecretVariable)
		}
	}
	if a.region = query.Get("region"); a.region != "" && !regions.MatchString(a.region) {
		return refuse("its region is not a region's name", "letters, digits and -")
	}
	if !query.Has("endpoint") {
		return a, nil
	}
	e, err := url.Parse(query.Get("endpoint"))
	if err != nil || e.Host == "" || e.User != nil || strings.Trim(e.Path, "/") != "" || e.RawQuery != "" || e.Fragment != "" {
		return refuse("its endpoint is not an address of a server", "https://host:port")
	}
	a.endpoint = e.Host
	switch {
	case e.Scheme == "https":
	case e.Scheme == "http" && isLoopback(e.Hostname()):
		a.secure = false
	default:
		return refuse("its endpoint would send patients' files unprotected", "https:// (http:// only to this machine)")
	}
	return a, nil
}

func isLoopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// String is the address without anything secret.
func (a s3Address) String() string {
	s := "s3://" + a.bucket
	if a.prefix != "" {
		s += "/" + a.prefix
	}
	return s
}
