package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/device/port"
)

func portsCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "ports",
		Short:   "List the serial ports, who is on them and what name follows the adapter",
		Example: "  soakline ports",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ports, err := port.List(cmd.Context())
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), viewPorts(ports))
			}
			return printPorts(cmd.OutOrStdout(), ports)
		},
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// portView is a port as scripts see it.
type portView struct {
	Path         string `json:"path"`
	Address      string `json:"address"` // finds it again, see bench.yaml
	USB          bool   `json:"usb"`
	VendorID     string `json:"vendor_id,omitempty"`
	ProductID    string `json:"product_id,omitempty"`
	Serial       string `json:"serial,omitempty"`
	Manufacturer string `json:"manufacturer,omitempty"`
	Product      string `json:"product,omitempty"`
	ByID         string `json:"by_id,omitempty"`
	ByPath       string `json:"by_path,omitempty"`
	State        string `json:"state"`
	Holder       string `json:"holder,omitempty"`
}

func viewPorts(ports []port.Info) []portView {
	views := []portView{}
	for _, p := range ports {
		views = append(views, portView{Path: p.Path, Address: p.Address(), USB: p.USB, VendorID: p.VendorID, ProductID: p.ProductID,
			Serial: p.Serial, Manufacturer: p.Manufacturer, Product: p.Product, ByID: p.ByID, ByPath: p.ByPath, State: string(p.State), Holder: p.Holder})
	}
	return views
}

func printPorts(w io.Writer, ports []port.Info) error {
	if len(ports) == 0 {
		fmt.Fprintln(w, "no serial port found; plug an adapter in, or name a serial server as tcp://host:port")
		return nil
	}
	table := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, p := range ports {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", p.Path, adapter(p), holding(p), advice(p))
	}
	return table.Flush()
}

// adapter says what a port is in hardware.
func adapter(p port.Info) string {
	if !p.USB {
		return "built in"
	}
	serial := "no serial number"
	if p.Serial != "" {
		serial = "serial " + p.Serial
	}
	text := fmt.Sprintf("USB %s:%s  %s", p.VendorID, p.ProductID, serial)
	if name := strings.TrimSpace(p.Manufacturer + " " + p.Product); name != "" {
		text += fmt.Sprintf("  %q", name)
	}
	return text
}

// holding says whether it could be opened.
func holding(p port.Info) string {
	if p.State == port.StateBusy && p.Holder != "" {
		return "busy: " + p.Holder
	}
	return string(p.State)
}

// advice names the address that finds the adapter again, where the plain name may
// change from one day to the next.
func advice(p port.Info) string {
	switch address := p.Address(); {
	case address == p.Path:
		return ""
	case p.Serial == "":
		return "by socket: " + address
	default:
		return "always: " + address
	}
}
