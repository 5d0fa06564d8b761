package verification

var stabilityFixtures []fixture
