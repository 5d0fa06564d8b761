package api

import "github.com/go-chi/chi/v5"

// readRoutes serves read, vread, history and search of what is stored.
func (d *door) readRoutes(chi.Router) {}
