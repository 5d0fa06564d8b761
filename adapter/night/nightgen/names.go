package nightgen

// Invented names of people and streets.
var (
	givens = []string{"Abelyn", "Bramwen", "Cassimir", "Dorvale", "Elspera", "Fennick", "Gildara", "Harvane", "Isolde", "Jorrick", "Kestrine", "Lomund", "Maribeth", "Norwyn",
		"Oswick", "Petronel", "Quillan", "Rosmund", "Sabreth", "Tavish", "Umberlin", "Verrick", "Wystan", "Yevara", "Zephrine", "Aldous", "Briseth", "Corvane", "Delphira", "Emrick"}
	families = []string{"Ashgrove", "Birchmere", "Coldbrook", "Dunwick", "Eldermoor", "Fallowby", "Greymarsh", "Hollowell", "Ivenhart", "Juniperry", "Kettlewick", "Larkhollow",
		"Mossbridge", "Netherfold", "Oakenshaw", "Pennywort", "Quickthorn", "Ravenscar", "Saltmarsh", "Thistledown", "Underhay", "Vennacher", "Willowmere", "Yarrowby",
		"Applecross", "Brackenbury", "Cloverley", "Dewhollow", "Emberlyn", "Foxgrove", "Gorsewick", "Heatherden", "Inglestone", "Kingsfold", "Lowenthorpe", "Millbeck"}
	streets = []string{"Example Road", "Lantern Lane", "Quarry Street", "Orchard Way", "Mill Row", "Harbour Close", "Juniper Court", "Station Hill"}
)
