package main

import "errors"

// freeBytes cannot tell here.
func freeBytes(string) (int64, error) { return 0, errors.ErrUnsupported }
