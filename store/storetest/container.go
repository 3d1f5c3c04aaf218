package storetest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
)

const officialImage = "postgres:16-alpine"

// settingReaper is the library's own setting: its reaper of containers is one more image
// that would have to be had.
const settingReaper = "TESTCONTAINERS_RYUK_DISABLED"

// fromContainer runs a server in a container, which Main ends. The library's reaper is
// switched off unless the environment says otherwise.
func fromContainer() (*server, error) {
	if os.Getenv(settingReaper) == "" {
		if err := os.Setenv(settingReaper, "true"); err != nil {
			return nil, err
		}
	}
	log.SetDefault(log.NewNoopLogger())
	image := os.Getenv(settingImage)
	if image == "" {
		image = officialImage
	}
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	defer cancel()
	provider, err := testcontainers.NewDockerProvider()
	if err != nil {
		return nil, none("no Docker engine: %v", err)
	}
	defer provider.Close()
	if err := provider.Health(ctx); err != nil {
		return nil, none("no Docker engine answers: %v", err)
	}
	c, err := testcontainers.Run(ctx, image,
		testcontainers.WithEnv(map[string]string{"POSTGRES_HOST_AUTH_METHOD": "trust"}),
		testcontainers.WithExposedPorts("5432/tcp"),
		testcontainers.WithCmd(serverOptions...))
	end := func() error { return testcontainers.TerminateContainer(c) }
	if err != nil {
		if c != nil {
			return nil, fmt.Errorf("container of %s: %w", image, errors.Join(err, end()))
		}
		return nil, none("no container of %s: %v", image, err)
	}
	host, err := c.Host(ctx)
	if err != nil {
		return nil, errors.Join(err, end())
	}
	port, err := c.MappedPort(ctx, "5432/tcp")
	if err != nil {
		return nil, errors.Join(err, end())
	}
	return &server{url: fmt.Sprintf("postgres://postgres@%s:%s/postgres?sslmode=disable", host, port.Port()), patience: 2 * time.Minute, end: end}, nil
}
