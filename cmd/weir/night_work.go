package main

import (
	"context"
	"errors"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
)

// nightWork is the record with the queue of its nights, whose workers run in
// this process until stop.
type nightWork struct {
	record night.Record
	queue  *queue.Queue
	worker night.Worker
	stop   func() error // lets what runs finish, and lets the queue go
}

// workNights begins the work of a command on the record: so many workers.
func workNights(ctx context.Context, s kept, ref policy.Reference, workers int) (*nightWork, error) {
	record, ok := s.(night.Record)
	if !ok {
		return nil, usageError{errors.New("this store cannot do the work of a night")}
	}
	q, err := queue.Open(ctx, record, queue.Options{Timeout: jobTime, Rescue: jobTime + jobTime/4})
	if err != nil {
		return nil, err
	}
	w := &nightWork{record: record, queue: q, worker: night.Worker{Intake: intake.Service{Store: record, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}}, Accepted: night.NewAccepted()}}
	working, end := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- q.Run(working, workers, w.worker.Handle) }()
	w.stop = func() error {
		end()
		return errors.Join(<-done, q.Close())
	}
	return w, nil
}
