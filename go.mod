module barwise

go 1.26
