module carryover

go 1.26
