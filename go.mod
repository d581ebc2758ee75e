module example.com/courtkin

go 1.26.7
