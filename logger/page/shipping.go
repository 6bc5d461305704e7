package page

import (
	"net/http"
	"time"

	"soakline/logger/ship"
)

// ShippingView is how the shipping to one target fares.
type ShippingView struct {
	Target          string     `json:"target"`
	Address         string     `json:"address"`
	PendingReadings int64      `json:"pending_readings"`
	OldestPending   *time.Time `json:"oldest_pending"`
	Lines           int64      `json:"lines"`
	Readings        int64      `json:"readings"`
	LastTaken       *time.Time `json:"last_taken"`
	RefusedLines    int64      `json:"refused_lines"`
	WentBack        int64      `json:"went_back"`
	BatchLines      int        `json:"batch_lines"`
	Trouble         string     `json:"trouble,omitempty"`
	TroubleSince    *time.Time `json:"trouble_since,omitempty"`
	NextTry         *time.Time `json:"next_try,omitempty"`
}

// Shipping is what the page needs of a shipper.
type Shipping interface{ Status() []ship.Status }

// Ships has the server say how shipping fares as well. Call it before Run.
func (s *Server) Ships(shipping Shipping) { s.shipping = shipping }

func (s *Server) shippingRoutes() []route {
	return []route{get("/api/v1/shipping", "Says how the shipping of the book to each target fares.", s.getShipping)}
}

func (s *Server) getShipping(*http.Request) ([]ShippingView, error) {
	views := []ShippingView{}
	if s.shipping != nil {
		for _, status := range s.shipping.Status() {
			views = append(views, viewShipping(status))
		}
	}
	return views, nil
}

func viewShipping(s ship.Status) ShippingView {
	return ShippingView{
		Target: s.Target, Address: s.Address, PendingReadings: s.Pending, OldestPending: moment(s.Oldest),
		Lines: s.Lines, Readings: s.Readings, LastTaken: moment(s.Last), RefusedLines: s.Refused, WentBack: s.WentBack,
		BatchLines: s.BatchLines, Trouble: s.Trouble, TroubleSince: moment(s.Since), NextTry: moment(s.Again),
	}
}
