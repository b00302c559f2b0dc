module revidit

go 1.26.8
