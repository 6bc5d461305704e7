package simbench

import "testing"

// BenchmarkAnswers is a question and its answer over the port with a meter that
// integrates for no time.
func BenchmarkAnswers(b *testing.B) {
	c := DemoConfig(b.TempDir())
	only(c, "meter").Meter.IntegrationS = 0
	p := open(b, start(b, c), "meter")
	p.ask("*IDN?")
	for b.Loop() {
		p.ask("MEAS:VOLT:DC?")
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "answers/s")
}

// BenchmarkCapture is the making of one record of 10,000 points at 50 MS/s.
func BenchmarkCapture(b *testing.B) {
	for _, picture := range []string{"bars-75", "white", "stripes"} {
		b.Run(picture, func(b *testing.B) {
			c := DemoConfig(b.TempDir())
			c.Units[0].Composite.Picture = picture
			bench, err := New(c)
			if err != nil {
				b.Fatal(err)
			}
			s := bench.instruments["scope"].machine.(*scope)
			s.points, s.time = 10000, 200e-6
			b.ReportAllocs()
			for b.Loop() {
				s.take(1, 0.1)
			}
		})
	}
}
