// Package barwise turns one job file into proved programs for every side of a bar that is turned by
// hand.
package barwise
