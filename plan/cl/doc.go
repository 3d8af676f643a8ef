// Package cl computes exact cutter-location surfaces: how low a cutter's tip may go above every point
// of a side so that the cutter stays clear of a triangle mesh.
package cl
