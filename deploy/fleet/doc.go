// Package fleet holds the tests of what is here for Prometheus, Alertmanager and Grafana:
// see README.md. There is nothing in it to import.
package fleet
