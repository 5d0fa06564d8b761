package store

// FeedRangeSQL is the statement of FeedRange.
const FeedRangeSQL = feedRange

// PlaceRowsSQL is the statement that asks all runs for a place.
const PlaceRowsSQL = placeRows
