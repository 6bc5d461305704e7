package notify

import (
	"encoding/base64"
	"testing"
)

// RFC 9421, appendix B.2.5: a request signed with hmac-sha256 and the shared secret
// of B.1.5.
func TestSignatureOfTheStandard(t *testing.T) {
	key, err := base64.StdEncoding.DecodeString("uzvJfB4u3N0Jy4T7NZ75MDVcr8zSTInedJtkgcu46YW4XByzNJjxBdtjUkdJPBtbmHhIDi6pcl8jsasjlTMtDQ==")
	if err != nil {
		t.Fatal(err)
	}
	input, signature := sign([]component{{"date", "Tue, 20 Apr 2021 02:07:55 GMT"}, {"@authority", "example.com"}, {"content-type", "application/json"}},
		`created=1618884473;keyid="test-shared-secret"`, key)
	if input != `("date" "@authority" "content-type");created=1618884473;keyid="test-shared-secret"` ||
		signature != "pxcQw6G3AjtMBQjwo8XzkZf/bws5LelbaMk5rGIGtE8=" {
		t.Errorf("%s\n%s", input, signature)
	}
}
