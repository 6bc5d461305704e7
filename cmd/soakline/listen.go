package main

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"

	"soakline/config"
	"soakline/logger/page"
)

// listen opens where page and metrics are served, encrypted if the bench has a
// certificate.
func listen(settings config.Bench, log *slog.Logger) (net.Listener, error) {
	listener, err := net.Listen("tcp", settings.Listen)
	if err != nil {
		return nil, fmt.Errorf("serve page and metrics: %w", err)
	}
	if settings.TLS == nil {
		if page.CheckListen(settings.Listen, "") != nil {
			log.Warn("the token goes over the network in clear: give the bench's file a certificate (tls)", "listen", settings.Listen)
		}
		return listener, nil
	}
	return tls.NewListener(listener, &tls.Config{Certificates: []tls.Certificate{*settings.TLS}, MinVersion: tls.VersionTLS12}), nil
}
