package auth

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
)

// LoadOrCreateKey returns the key in a file, as hexadecimal digits, and makes a random one of 32 bytes where there is
// no file. It refuses a key that is too short, and a file that others than its owner may read or write.
func LoadOrCreateKey(path string) ([]byte, error) {
	key, err := loadKey(path)
	if !errors.Is(err, fs.ErrNotExist) {
		return key, err
	}
	key = make([]byte, minKey)
	rand.Read(key) // never fails: crypto/rand ends the program instead
	// O_EXCL: of two programs that start at once, one makes the key and the other reads it.
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return loadKey(path)
	}
	if err != nil {
		return nil, fmt.Errorf("create key: %w", err)
	}
	_, err = file.WriteString(hex.EncodeToString(key) + "\n")
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return nil, fmt.Errorf("write key %s: %w", path, err)
	}
	return key, nil
}

func loadKey(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("read key: %w", err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("the key file %s can be read by others (%o); make it your own: chmod 600 %s", path, info.Mode().Perm(), path)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read key: %w", err)
	}
	key, err := hex.DecodeString(string(bytes.TrimSpace(text)))
	if err != nil {
		return nil, fmt.Errorf("the key file %s does not hold hexadecimal digits", path)
	}
	if len(key) < minKey {
		return nil, fmt.Errorf("the key file %s holds %d bytes; at least %d are needed. Remove it to have a new one made, which ends all logins", path, len(key), minKey)
	}
	return key, nil
}
