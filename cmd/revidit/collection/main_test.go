package collection_test

import (
	"os"
	"testing"

	"revidit/models/modelstest"
)

func TestMain(m *testing.M) { os.Exit(modelstest.Main(m)) }
