module example.com/courtkin/.ci/tools/count

go 1.26.7
