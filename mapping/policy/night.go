package policy

// Night holds the thresholds of the nightly comparison. AbsentShare is a
// fraction of the orders held active; counts are units and days.
type Night struct {
	FeedAge        Length   `yaml:"feedAge"`        // older data of the hospital are a silent feed
	AbsentShare    Fraction `yaml:"absentShare"`    // above it the feed has shrunk
	UnseenAge      Length   `yaml:"unseenAge"`      // a younger order is not yet one that nobody looked at
	StockTolerance int      `yaml:"stockTolerance"` // units more at home than the plan needs that nobody is asked about
	TestGrace      Length   `yaml:"testGrace"`      // from the planned draw until a result must be there
	ResultGrace    Length   `yaml:"resultGrace"`    // from the result until a named person has seen it
	TaskGrace      Length   `yaml:"taskGrace"`      // after its due time an open task goes to the next in line
	TaskSupervisor Length   `yaml:"taskSupervisor"` // and from here to the supervisor
	EndDays        int      `yaml:"endDays"`        // so many days before its end somebody must have said what follows
	Source         string
}
