package api

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"sabinbook/internal/catalog"
)

// The routes of the service itself, which need no decoding.

func (s *Server) health(c echo.Context) error {
	return c.JSON(http.StatusOK, map[string]string{"status": "ok", "version": s.opts.Version})
}

// pingWait is how long the store may take to show that it lives.
const pingWait = 2 * time.Second

func (s *Server) readiness(c echo.Context) error {
	if s.draining.Load() {
		return catalog.ErrUnavailable
	}
	ctx, cancel := context.WithTimeout(c.Request().Context(), pingWait)
	defer cancel()
	if err := s.store.Ping(ctx); err != nil {
		return err
	}
	return c.JSON(http.StatusOK, map[string]string{"status": "ready", "version": s.opts.Version})
}

func (s *Server) contractJSON(c echo.Context) error {
	return c.JSONBlob(http.StatusOK, s.document)
}

func (s *Server) shortlistSchema(c echo.Context) error {
	return c.JSONBlob(http.StatusOK, s.schema)
}

func (s *Server) problemPage(c echo.Context) error {
	for _, k := range problemKinds {
		if k.code == c.Param("code") {
			return c.String(http.StatusOK, k.page())
		}
	}
	return catalog.ErrNotFound
}
