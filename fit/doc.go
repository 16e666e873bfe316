// Package fit holds the numerics of the project on plain float64 slices:
// nonlinear least squares with bounds and covariance, curve models, first-order
// kinetics and root finding. It knows nothing of photography and imports only
// gonum.
//
// Begin with Minimize, least squares for any Problem; FitBend and FitKinetics are
// the fits that strips and their development need.
//
// Functions panic when the caller breaks a length rule and return an error or
// a status when the data cannot be fitted. An unknown covariance is nil, never
// zero.
package fit
