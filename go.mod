module limitans

go 1.26.8
