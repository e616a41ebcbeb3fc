package web

// commonKeys say what keys mean that stand in many nouns, or that have no comment
// of their own in the code.
var commonKeys = map[string]string{
	"id": "identifier", "at": "time", "name": "name for people", "note": "in a person's own words", "notes": "in words", "text": "in words",
	"what": "what was found", "mend": "how to mend it", "cautions": "what the program always says of itself", "roles": "roles of the account",
	"unit_number": "number of the person in the unit; leading zeros belong to it", "maker": "who makes it", "lot": "lot number as on the label",
	"expiry": "last day of use, as on the label", "product": "name on the label", "kind": "what it is", "code": "stable code",
	"length_mm": "length in mm", "family": "family name", "given": "given names", "value": "as it was given",
	"route_altitude_m": "highest point of the way home, metres above the sea", "bytes": "size", "media_type": "what sort of file it is",
	"slices": "how many slices", "rows": "samples along the depth", "columns": "samples along a slice",
	"lateral_um": "µm per sample along a slice; left out where unknown", "slice_um": "µm between slices; left out where unknown",
	"why_not": "reasons against it", "gauge_g": "gauge of the instrument", "percent": "of gas in air", "fill_percent": "share of the cavity",
	"posture_days": "days of posture", "schema": "name of its form", "version": "version of its form", "duration_s": "duration, seconds",
	"disc_diameters": "extent in diameters of the optic disc", "disc_diameter_assumed_mm": "diameter of the optic disc that was assumed, mm",
	"site": "place on the eye", "limbus_mm": "behind the limbus, mm", "mg_per_ml": "strength, mg/mL", "viscosity_cst": "viscosity, mm²/s (centistokes)",
	"elapsed_s": "seconds since the operation began", "mmhg": "pressure, mmHg", "no_drops": "asked, none",
	"air_pressure_mmhg": "pressure of the air, mmHg", "infusion_site": "where the infusion stands", "retinotomy_degrees": "extent of the retinotomy",
	"logmar": "null where nothing on a chart stands behind it", "letters": "letter score by formula; null off the chart", "scheme": "how logMAR came about",
	"letters_gained": "letters read behind the line", "meniscus_error_percent": "half width of the 95 % interval",
	"fovea_distance_um": "distance from the fovea, µm", "from_s": "begin, seconds", "to_s": "end, seconds",
	"warnings": "in sentences", "method": "how it is computed", "basis": "what it stands on", "source": "published source", "steps": "in the order in which they are done",
	"gas": "the agent", "lens": "state of the lens", "axial_length_mm": "axial length of the eye, mm", "total_ml": "in the syringe in the end",
	"pressure_before_mmhg": "pressure before the journey, mmHg", "peak_at_minutes": "minutes from the beginning", "position": "of the head",
	"hours": "how long", "low": "low end", "high": "high end",
	"raw": "as written", "how": "how it was read", "capacity_ml": "capacity, mL", "lifted": "by two people with a reason", "atmospheres": "absolute pressure in the syringe",
	"minutes": "from the beginning, minutes", "height_m": "height above the sea, m", "pressure_mmhg": "pressure, mmHg", "verdict": "the answer; never a permission",
	"diagnoses":  "what is wrong with the eye",
	"error_code": "stable code of the error", "begun": "when the last attempt began", "ended": "when it ended",
}
