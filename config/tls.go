package config

import "crypto/tls"

// certificate reads with what the page is served encrypted; nil where it is not.
func (l *loader) certificate(s *section) *tls.Certificate {
	at := s.sub("tls", optional)
	if at == nil {
		return nil
	}
	certificate, key := at.text("certificate_file", required), at.text("key_file", required)
	at.done()
	if certificate == "" || key == "" {
		return nil
	}
	l.secretFiles = append(l.secretFiles, l.show(key))
	var files [2][]byte
	for i, file := range []struct{ key, name string }{{"certificate_file", certificate}, {"key_file", key}} {
		text, err := l.read(file.name)
		if err != nil {
			at.wrong(file.key, "%s cannot be read: %s", l.show(file.name), unreadable(err)).cause = err
			return nil
		}
		files[i] = text
	}
	pair, err := tls.X509KeyPair(files[0], files[1])
	if err != nil {
		at.wrong("certificate_file", "%s and %s are no pair of certificate and key: %v", l.show(certificate), l.show(key), err)
		return nil
	}
	return &pair
}
