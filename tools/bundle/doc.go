// Command bundle makes what pages load from what is written: every module of
// internal/web/ui becomes one minified script of internal/web/assets, with what
// it imports, and style.css its minified twin. The results are committed, so that
// building the program needs no other tool.
//
//	go run -C tools ./bundle          write
//	go run -C tools ./bundle -check   fail where something would be written
package main
