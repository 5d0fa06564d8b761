package verification

var careFixtures []fixture
