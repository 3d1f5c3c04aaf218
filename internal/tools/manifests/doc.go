// Package manifests holds the check of the manifests in deploy/kubernetes.
package manifests
