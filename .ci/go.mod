module soakline/ci

go 1.26.8

require (
	github.com/securego/gosec/v2 v2.30.0
	golang.org/x/tools v0.52.0
)

require (
	github.com/ccojocar/zxcvbn-go v1.0.4 // indirect
	golang.org/x/mod v0.42.0 // indirect
	golang.org/x/sync v0.24.0 // indirect
	golang.org/x/sys v0.49.0 // indirect
	golang.org/x/telemetry v0.0.0-20261010193011-f71dc92da45e // indirect
	golang.org/x/vuln v1.9.0 // indirect
)

tool golang.org/x/vuln/cmd/govulncheck
