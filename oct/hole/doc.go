// Package hole finds a full-thickness macular hole in an OCT volume as a region
// in three dimensions and measures it in micrometres.
//
// # Definitions
//
//		        left rim                      right rim
//		          ___                           ___       ▲ height (crest above the
//		 ________/   \· · · · · lid · · · · · ·/   \____  │ epithelium's inner edge)
//		              \  opening              /           │
//		               )                     (            │
//		              (───── minimum ───────)             │
//		 retina        \                   /    retina    │
//		 ______________/_______base________\______________▼
//		━━━━━━━━━━━━━━━━━━ pigment epithelium ━━━━━━━━━━━━━
//
//	  - Minimum linear diameter, as clinicians take it: on every slice the narrowest
//	    gap from wall to wall parallel to the epithelium; of all slices the widest.
//	  - Smallest section: the cut parallel to the epithelium with the smallest area
//	    in three dimensions; its smallest and largest diameter between parallel
//	    tangents, and the meridian of the smallest.
//	  - Base: the largest gap at the epithelium. Glare of the epithelium hides the
//	    lowest 27 µm of a wall; the wall is carried down from above.
//	  - Lid and opening: the lumen ends at nine tenths of the lower rim's height;
//	    the opening is the largest gap there (definition of this program, because
//	    the published one, "at the inner surface", lies on a rounded rim).
//	  - Volume: the lumen between the epithelium and the lid.
//
// Loose fragments in the lumen count as lumen. Closed cysts do not. What lies
// outside the scan is not measured.
//
// # Method
//
// The scan is seen from the pigment epithelium (height above its inner edge) and
// scaled in brightness between vitreous and tissue. Space as dark as vitreous is
// flooded from the vitreous through openings of at least 22 µm; where it comes
// down to the epithelium lies the hole. Walls are placed, at every slice and
// height, where brightness crosses the middle between the lumen and the tissue
// behind the wall: the visible edge, where a caliper on the screen is set. All
// edges together show how the scan blurs and compresses a step; from that and
// from the display share of package surface follows how far behind the visible
// edge half of the tissue's signal lies, and the walls are moved there. A loose
// fragment lying against a wall, parted from it by a cleft, is left out.
// Everything is worked in micrometres, with the tilt of the epithelium taken into
// account.
//
// The published size limits rest on readings between visible edges, so both
// widths are given and classed.
//
// # Validity
//
// Raster and radial sets and single slices, 80 to 1300 µm. Intervals were fitted
// on synthetic eyes and proved on others; real eyes may differ by more. The
// reading error of a person is 31 µm (95 %), see [RealChangeUM].
package hole
