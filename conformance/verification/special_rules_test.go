package verification

var specialFixtures []fixture
