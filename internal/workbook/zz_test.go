package workbook

import (
	"os"
	"testing"
)

func TestZZDemo(t *testing.T) {
	data, err := os.ReadFile("/tmp/wb/UMB.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	inspect(t, data)
	judge(t, data)
}
