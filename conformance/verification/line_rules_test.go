package verification

var lineFixtures []fixture
