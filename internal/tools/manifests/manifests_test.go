package manifests

import (
	"bytes"
	"os"
	"testing"

	appsv1 "k8s.io/api/apps/v1"
	corev1 "k8s.io/api/core/v1"
	networkingv1 "k8s.io/api/networking/v1"
	policyv1 "k8s.io/api/policy/v1"
	"sigs.k8s.io/yaml"
)

// Every document decodes into the type of its kind without an unknown or repeated member, and the parts
// name each other by the same labels, ports and volumes.
func TestManifestsDecodeStrictly(t *testing.T) {
	text, err := os.ReadFile("../../../deploy/kubernetes/sabinbook.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var deployment appsv1.Deployment
	var service corev1.Service
	var account corev1.ServiceAccount
	var budget policyv1.PodDisruptionBudget
	var network networkingv1.NetworkPolicy
	kinds := map[string]any{"apps/v1 Deployment": &deployment, "v1 Service": &service, "v1 ServiceAccount": &account,
		"policy/v1 PodDisruptionBudget": &budget, "networking.k8s.io/v1 NetworkPolicy": &network}
	for _, document := range bytes.Split(text, []byte("\n---\n")) {
		var head struct{ APIVersion, Kind string }
		if err := yaml.Unmarshal(document, &head); err != nil {
			t.Fatal(err)
		}
		name := head.APIVersion + " " + head.Kind
		into, known := kinds[name]
		if !known {
			t.Errorf("%q is unknown here, or stands twice", name)
			continue
		}
		if err := yaml.UnmarshalStrict(document, into); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		delete(kinds, name)
	}
	for name := range kinds {
		t.Errorf("%s is missing", name)
	}
	pod := deployment.Spec.Template
	for what, selector := range map[string]map[string]string{"deployment": deployment.Spec.Selector.MatchLabels, "service": service.Spec.Selector,
		"budget": budget.Spec.Selector.MatchLabels, "network": network.Spec.PodSelector.MatchLabels} {
		if len(selector) == 0 {
			t.Errorf("the selector of the %s takes every pod", what)
		}
		for k, v := range selector {
			if pod.Labels[k] != v {
				t.Errorf("the selector of the %s does not find the pods", what)
			}
		}
	}
	c := pod.Spec.Containers[0]
	ports, volumes := map[string]bool{}, map[string]bool{}
	for _, p := range c.Ports {
		ports[p.Name] = true
	}
	for _, v := range pod.Spec.Volumes {
		volumes[v.Name] = true
	}
	for _, p := range service.Spec.Ports {
		if !ports[p.TargetPort.String()] {
			t.Errorf("the service leads to the port %s, which is none", p.TargetPort.String())
		}
	}
	for _, p := range []*corev1.Probe{c.StartupProbe, c.ReadinessProbe, c.LivenessProbe} {
		if !ports[p.HTTPGet.Port.String()] {
			t.Errorf("a probe asks the port %s, which is none", p.HTTPGet.Port.String())
		}
	}
	for _, m := range c.VolumeMounts {
		if !volumes[m.Name] {
			t.Errorf("the volume %s is none", m.Name)
		}
	}
	if s := c.SecurityContext; !*s.ReadOnlyRootFilesystem || *s.AllowPrivilegeEscalation || len(s.Capabilities.Drop) != 1 || s.Capabilities.Drop[0] != "ALL" || !*pod.Spec.SecurityContext.RunAsNonRoot {
		t.Error("the container is not confined")
	}
	if pod.Spec.ServiceAccountName != account.Name || budget.Spec.MinAvailable.IntValue() >= int(*deployment.Spec.Replicas) {
		t.Error("the account is another one, or no pod may ever be drained")
	}
}
