// Package client is the typed client of the HTTP service, generated from the contract.
package client
