package verification

var allergyFixtures []fixture
