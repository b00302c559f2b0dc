package photo

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"sync"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"
)

const (
	pageOfWasm = 64 << 10
	// mostLinear bounds what a decoder in WebAssembly may be given, in bytes. It reaches no other memory.
	mostLinear = 704 << 20
	// leastLinear is what it takes for itself.
	leastLinear = 48 << 20
)

// linearFor is how much memory a decoder is given for a picture: for its pixels, as they are estimated, and for the file.
func linearFor(decoded, size int64) int64 {
	return min(leastLinear+decoded+2*size, mostLinear) / pageOfWasm * pageOfWasm
}

// errMemory: a decoder asked for more than it was given.
var errMemory = errors.New("the decoder takes more memory than it is given")

// compiled keeps what a process has compiled, for the next picture that it reads.
var compiled = sync.OnceValue(wazero.NewCompilationCache)

// decoder is a C library in WebAssembly: it sees the bytes that are put into its memory and nothing else of the machine.
type decoder struct {
	ctx     context.Context
	runtime wazero.Runtime
	module  api.Module
	memory  int64 // that it is given
}

// startDecoder starts a packed module with some memory. The caller closes the decoder, and after that uses nothing of its memory.
func startDecoder(packed []byte, memory int64) (d *decoder, err error) {
	unpacked, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("photo: a decoder: %w", err)
	}
	code, err := io.ReadAll(unpacked)
	if err != nil {
		return nil, fmt.Errorf("photo: a decoder: %w", err)
	}
	ctx := context.Background()
	// All memory at once, because growing copies it; what is not used is never touched.
	config := wazero.NewRuntimeConfig().WithMemoryLimitPages(uint32(memory / pageOfWasm)).WithMemoryCapacityFromMax(true).WithDebugInfoEnabled(false).WithCompilationCache(compiled())
	d = &decoder{ctx: ctx, memory: memory, runtime: wazero.NewRuntimeWithConfig(ctx, config)}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("photo: a decoder: %w", err), d.close())
		}
	}()
	if _, err = wasi_snapshot_preview1.Instantiate(ctx, d.runtime); err != nil {
		return nil, err
	}
	d.module, err = d.runtime.InstantiateWithConfig(ctx, code, wazero.NewModuleConfig().WithStartFunctions("_initialize"))
	return d, err
}

func (d *decoder) close() error { return d.runtime.Close(d.ctx) }

// call returns the first result of a function. What goes wrong within is the picture's fault.
func (d *decoder) call(name string, args ...uint64) (uint32, error) {
	results, err := d.module.ExportedFunction(name).Call(d.ctx, args...)
	if err != nil {
		if int64(d.module.Memory().Size()) > d.memory/10*9 {
			return 0, errMemory
		}
		return 0, fmt.Errorf("%s: %w", name, err)
	}
	return uint32(results[0]), nil
}

func (d *decoder) alloc(n int64) (uint64, error) {
	if n > d.memory {
		return 0, errMemory
	}
	at, err := d.call("malloc", uint64(n))
	if err == nil && at == 0 {
		err = errMemory
	}
	return uint64(at), err
}

// put copies data into the decoder's memory.
func (d *decoder) put(data []byte) (uint64, error) {
	at, err := d.alloc(int64(len(data)))
	if err != nil {
		return 0, err
	}
	if !d.module.Memory().Write(uint32(at), data) {
		return 0, errMemory
	}
	return at, nil
}

// view is a part of the decoder's memory, not a copy of it.
func (d *decoder) view(at uint64, n int64) ([]byte, error) {
	b, ok := d.module.Memory().Read(uint32(at), uint32(n))
	if !ok {
		return nil, errMemory
	}
	return b, nil
}

// numbers reads n numbers of 32 bits.
func (d *decoder) numbers(at uint64, n int) ([]uint32, error) {
	b, err := d.view(at, int64(4*n))
	if err != nil {
		return nil, err
	}
	found := make([]uint32, n)
	for i := range found {
		found[i] = binary.LittleEndian.Uint32(b[4*i:])
	}
	return found, nil
}
