package store

// FeedRangeSQL is the statement of FeedRange.
const FeedRangeSQL = feedRange
