package verification

var flushFixtures []fixture
