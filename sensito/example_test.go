package sensito_test

import (
	"fmt"
	"log"

	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// From the file of a trial to the answer for a scene of seven stops.
func Example() {
	trial, err := notebook.ReadFile("../cmd/sensito/demo/larkfield-brinewater.toml")
	if err != nil {
		log.Fatal(err)
	}
	family, err := development.NewFamily(trial, curve.MeasureOptions{})
	if err != nil {
		log.Fatal(err)
	}
	answer, err := scene.For(family, scene.Scene{Stops: 7})
	if err != nil {
		log.Fatal(err)
	}
	low, high := answer.Minutes.Interval(0.95)
	fmt.Printf("develop %.2f min (%.2f to %.2f)\n", answer.Minutes.Value, low, high)
	fmt.Printf("set the meter to EI %.0f\n", answer.ExposureIndex.Value)
	least, most := answer.Delivered.Interval(0.95)
	fmt.Printf("density range %.2f (%.2f to %.2f)\n", answer.Delivered.Value, least, most)
	// Output:
	// develop 5.96 min (5.86 to 6.04)
	// set the meter to EI 78
	// density range 1.05 (1.03 to 1.07)
}
