package main

import (
	"encoding/json"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/config"
)

// TestGraphRules has promtool check the rules and try them on series of its own.
func TestGraphRules(t *testing.T) {
	promtool := need(t, "promtool")
	rules, err := filepath.Glob("../../config/graphing/prometheus/[ar]*.yml")
	if err != nil || len(rules) != 2 {
		t.Fatalf("rules %q, %v", rules, err)
	}
	for _, arguments := range [][]string{append([]string{"check", "rules"}, rules...),
		{"test", "rules", "../../config/testdata/graphing/rules_test.yml"}} {
		if output, err := exec.Command(promtool, arguments...).CombinedOutput(); err != nil {
			t.Errorf("promtool %s: %v\n%s", strings.Join(arguments, " "), err, output)
		}
	}
}

// TestComposeFile has docker-compose read the file; there is no engine to run it.
func TestComposeFile(t *testing.T) {
	compose := exec.Command(need(t, "docker-compose"), "-f", "../../docker-compose.yml", "config")
	compose.Env = append(os.Environ(), "SOAKLINE_METER=/dev/serial/by-id/usb-meter", "DIALOUT_GROUP=27")
	output, err := compose.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, output)
	}
	for _, want := range []string{"no-new-privileges:true", "soakline_token", "127.0.0.1:8725:8725", "/dev/serial/by-id/usb-meter:/dev/ttyUSB0",
		"/dev/ttyUSB1:/dev/ttyUSB1", "group_add:\n    - '27'", "read_only: true", "cap_drop:\n    - ALL", "/etc/soakline:ro"} {
		if !strings.Contains(string(output), want) {
			t.Errorf("no %s in\n%s", want, output)
		}
	}
	for _, mounted := range []string{"config/graphing/prometheus/prometheus.yml", "config/graphing/grafana/provisioning/datasources/soakline.yml",
		"config/graphing/grafana/dashboards/soak.json"} {
		if _, err := os.Stat(filepath.Join("../..", mounted)); err != nil {
			t.Error(err)
		}
	}
}

// checkGraphs asks Prometheus, which has scraped a demo, every question of the
// shipped dashboards as it stood at a moment: each must have an answer.
func checkGraphs(t *testing.T, address string, at time.Time) {
	t.Helper()
	queries, err := config.GraphQueries()
	if err != nil {
		t.Fatal(err)
	}
	if len(queries) < 15 {
		t.Errorf("only %d questions in the dashboards", len(queries))
	}
	all := strings.NewReplacer("$bench", ".*", "$unit", ".*", "$test_point", ".*")
	for _, q := range queries {
		query := url.Values{"query": {all.Replace(q.Expr)}, "time": {strconv.FormatFloat(float64(at.UnixMilli())/1e3, 'f', 3, 64)}}
		var answer struct {
			Status string
			Data   struct{ Result []json.RawMessage }
		}
		if err := json.Unmarshal(fetch(t, "http://"+address+"/api/v1/query?"+query.Encode()), &answer); err != nil || answer.Status != "success" {
			t.Errorf("%s, %s: status %q, %v", q.Dashboard, q.Panel, answer.Status, err)
		} else if len(answer.Data.Result) == 0 {
			t.Errorf("%s, %s: no data for %s", q.Dashboard, q.Panel, q.Expr)
		}
	}
}
