package api

import "github.com/go-chi/chi/v5"

// writeRoutes serves create, update, transactions and messages.
func (d *door) writeRoutes(chi.Router) {}
