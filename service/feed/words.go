package feed

import "strings"

// phrases are the reasons in one language, by key.
type phrases map[string]string

var english = phrases{
	"ready":           "One player, ready and facing the net.",
	"no_frames":       "No frames: nobody can be seen.",
	"old_frames":      "The newest frame is older than a second.",
	"too_few_frames":  "Too few new frames to see whether the player is ready.",
	"player_not_seen": "The player cannot be seen well enough.",
	"net_unknown":     "Nothing tells where the net is: give the camera's viewpoint or court marks.",
	"second_person":   "There may be a second person in the picture.",
	"player_moving":   "The player is still moving.",
	"not_facing_net":  "The player does not face the net.",
	"not_ready":       "The player is not in the ready position.",
	"player_left":     "The player has left.",
	"no_limits":       "The machine's limits are missing or contradict one another.",
	"volume":          "That is enough balls for this session.",
	"same":            "The same ball again.",
	"same_few":        "The same ball until there are enough to judge.",
	"harder_speed":    "The last balls were steady: a little faster.",
	"harder_lateral":  "The last balls were steady: a little further to the side.",
	"harder_depth":    "The last balls were steady: a little deeper.",
	"harder_interval": "The last balls were steady: a little sooner.",
	"harder_topspin":  "The last balls were steady: a little more spin.",
	"easier_speed":    "The last balls broke down: a little slower.",
	"easier_lateral":  "The last balls broke down: a little closer.",
	"easier_depth":    "The last balls broke down: a little shorter.",
	"easier_interval": "The last balls broke down: a little more time.",
	"easier_topspin":  "The last balls broke down: a little less spin.",
}

var german = phrases{
	"ready":           "Ein Spieler, bereit und zum Netz gewandt.",
	"no_frames":       "Keine Bilder: niemand ist zu sehen.",
	"old_frames":      "Das neueste Bild ist älter als eine Sekunde.",
	"too_few_frames":  "Zu wenige neue Bilder, um zu sehen, ob der Spieler bereit ist.",
	"player_not_seen": "Der Spieler ist nicht gut genug zu sehen.",
	"net_unknown":     "Nichts sagt, wo das Netz ist: gib den Blickwinkel der Kamera oder Platzpunkte an.",
	"second_person":   "Vielleicht ist eine zweite Person im Bild.",
	"player_moving":   "Der Spieler bewegt sich noch.",
	"not_facing_net":  "Der Spieler schaut nicht zum Netz.",
	"not_ready":       "Der Spieler steht nicht in der Bereitschaft.",
	"player_left":     "Der Spieler ist weg.",
	"no_limits":       "Die Grenzen der Maschine fehlen oder widersprechen sich.",
	"volume":          "Das sind genug Bälle für diese Einheit.",
	"same":            "Noch einmal derselbe Ball.",
	"same_few":        "Derselbe Ball, bis genug zu beurteilen sind.",
	"harder_speed":    "Die letzten Bälle waren stabil: etwas schneller.",
	"harder_lateral":  "Die letzten Bälle waren stabil: etwas weiter außen.",
	"harder_depth":    "Die letzten Bälle waren stabil: etwas länger.",
	"harder_interval": "Die letzten Bälle waren stabil: etwas früher.",
	"harder_topspin":  "Die letzten Bälle waren stabil: etwas mehr Drall.",
	"easier_speed":    "Die letzten Bälle misslangen: etwas langsamer.",
	"easier_lateral":  "Die letzten Bälle misslangen: etwas näher.",
	"easier_depth":    "Die letzten Bälle misslangen: etwas kürzer.",
	"easier_interval": "Die letzten Bälle misslangen: etwas mehr Zeit.",
	"easier_topspin":  "Die letzten Bälle misslangen: etwas weniger Drall.",
}

// phrasesFor returns the language of a BCP 47 locale; English for the unknown.
func phrasesFor(locale string) phrases {
	if l := strings.ToLower(locale); l == "de" || strings.HasPrefix(l, "de-") || strings.HasPrefix(l, "de_") {
		return german
	}
	return english
}
