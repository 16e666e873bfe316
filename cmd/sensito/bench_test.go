package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkCurveCommand measures the whole command over many files, from
// reading to JSON, in one process.
func BenchmarkCurveCommand(b *testing.B) {
	for _, trial := range []string{demoMain, demoShoulder} {
		for _, files := range []int{20, 200} {
			b.Run(fmt.Sprintf("trial=%s/files=%d", trial, files), func(b *testing.B) {
				data, err := demoFiles.ReadFile("demo/" + trial)
				require.NoError(b, err)
				dir := b.TempDir()
				args := []string{"curve", "--json"}
				for i := range files {
					path := filepath.Join(dir, fmt.Sprintf("%d.toml", i))
					require.NoError(b, os.WriteFile(path, data, 0o600))
					args = append(args, path)
				}
				strips := 0
				for b.Loop() {
					require.Zero(b, run(args, nil, io.Discard, io.Discard))
					strips += files * map[string]int{demoMain: 5, demoShoulder: 4}[trial]
				}
				b.ReportMetric(float64(strips)/b.Elapsed().Seconds(), "strips/s")
			})
		}
	}
}
