package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"math/big"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"soakline/config"
)

// certify writes a certificate for a name that this machine does not have, with its
// key.
func certify(t *testing.T, dir string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := x509.Certificate{SerialNumber: big.NewInt(time.Now().UnixNano()), Subject: pkix.Name{CommonName: "pier-end"}, DNSNames: []string{"pier-end.example"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	raw, err := x509.CreateCertificate(rand.Reader, &template, &template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	for name, block := range map[string]*pem.Block{"bench.crt": {Type: "CERTIFICATE", Bytes: raw}, "bench.key": {Type: "PRIVATE KEY", Bytes: private}} {
		if err := os.WriteFile(filepath.Join(dir, name), pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// TestServeEncrypted: with a certificate page and metrics are there over TLS only, and
// the commands believe that certificate and no other.
func TestServeEncrypted(t *testing.T) {
	t.Parallel()
	b := newRoundBench(t)
	dir := filepath.Dir(b.file)
	certify(t, dir)
	text, err := os.ReadFile(b.file)
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, "tls: {certificate_file: bench.crt, key_file: bench.key}\ntoken: shells-and-sand\n"...)
	if err := os.WriteFile(b.file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	serve := start(t, binary(t), "serve", "--bench", b.file)
	waitForDaemon(t, b)
	stdout, _ := b.soakline(t, exitDone, "unit", "list")
	matches(t, stdout, `^B8-0147`)

	bench, err := config.Load(b.file, nil)
	if err != nil {
		t.Fatal(err)
	}
	d, err := findDaemon(t.Context(), bench)
	if err != nil || d == nil || d.scheme != "https://" {
		t.Fatalf("daemon %+v, %v", d, err)
	}
	_, err = http.Get("https://" + d.address + "/healthz")
	if _, unknown := errors.AsType[*tls.CertificateVerificationError](err); !unknown {
		t.Errorf("a stranger believes the certificate: %v", err)
	}
	if answer, err := http.Get("http://" + d.address + "/healthz"); err == nil && answer.StatusCode == http.StatusOK {
		t.Error("the page is served in clear as well")
	}
	certify(t, dir) // another, which the daemon does not have
	other, err := config.Load(b.file, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d, err := findDaemon(t.Context(), other); d != nil || err != nil {
		t.Errorf("a daemon with another certificate was believed: %+v, %v", d, err)
	}
	if regexp.MustCompile(`in clear`).MatchString(serve.log.String()) {
		t.Errorf("%s", serve.log)
	}
}
