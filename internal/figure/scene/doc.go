// Package scene is a small picture that does not know how it will be written:
// images, paths and texts in groups, at places on a sheet. The drawings build
// scenes; [Scene.WriteSVG] writes one as SVG, other renderers may draw the same
// scene elsewhere.
//
// # Units
//
//	(0,0) ───────▶ x, to Width
//	  │
//	  │    one unit is 1/96 inch (a CSS pixel, 0.75 typographic points)
//	  ▼
//	  y, to Height
//
// Paths are made of straight lines only, so that every renderer draws the same
// thing. Later nodes lie over earlier ones. The same scene gives the same bytes.
//
// Text is set in whatever sans-serif the renderer has; its width is therefore
// only known roughly ([TextWidth]), and drawings leave room for that.
package scene
