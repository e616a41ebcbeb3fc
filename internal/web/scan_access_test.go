package web

import "maps"

// The routes of the scan station; see accessTable.
func init() {
	maps.Copy(accessTable, map[string]string{
		"GET /eyes/{eye}/scan":                                   "stc",
		"POST /eyes/{eye}/scan":                                  "stc",
		"GET /eyes/{eye}/scan/{scan}":                            "stc",
		"GET /eyes/{eye}/scan/{scan}/pictures/{content}/{slice}": "stc",
		"GET /eyes/{eye}/scan/{scan}/front":                      "stc",
		"GET /eyes/{eye}/scan/{scan}/body":                       "stc",
		"GET /eyes/{eye}/scan/{scan}/thickness":                  "stc",
		"GET /eyes/{eye}/scan/{scan}/compare":                    "stc",
		"POST /eyes/{eye}/scan/{scan}/measure":                   "sc",
		"POST /eyes/{eye}/scan/{scan}/cancel":                    "sc",
		"POST /eyes/{eye}/scan/{scan}/scale":                     "sc",
		"POST /eyes/{eye}/scan/{scan}/lines":                     "sc",
		"POST /eyes/{eye}/scan/{scan}/sign":                      "s",
	})
}
