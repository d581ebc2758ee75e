package k8s

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	certmanager "github.com/cert-manager/cert-manager/pkg/apis/certmanager/v1"
	apps "k8s.io/api/apps/v1"
	autoscaling "k8s.io/api/autoscaling/v2"
	batch "k8s.io/api/batch/v1"
	core "k8s.io/api/core/v1"
	networking "k8s.io/api/networking/v1"
	policy "k8s.io/api/policy/v1"
	meta "k8s.io/apimachinery/pkg/apis/meta/v1"
	"k8s.io/apimachinery/pkg/labels"
	"k8s.io/apimachinery/pkg/runtime"
	"k8s.io/apimachinery/pkg/runtime/serializer"
	"sigs.k8s.io/kustomize/api/krusty"
	"sigs.k8s.io/kustomize/kyaml/filesys"
)

// overlays are the kustomizations that are built, and the components added to
// each: the last two are the options that many/kustomization.yaml names.
var overlays = []struct {
	name, base string
	components []string
}{
	{"base", "/base", nil},
	{"one-box", "/overlays/one-box", nil},
	{"many", "/overlays/many", nil},
	{"many with TLS", "/overlays/many", []string{"/components/tls"}},
	{"many by streams", "/overlays/many", []string{"/components/hpa-streams"}},
	{"batch", "/batch", nil},
}

// files copies deploy/kustomize into memory, where a test can add overlays.
func files(t *testing.T) filesys.FileSystem {
	t.Helper()
	memory := filesys.MakeFsInMemory()
	from := os.DirFS(filepath.Join(deploy, "kustomize"))
	err := fs.WalkDir(from, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(from, path)
		if err != nil {
			return err
		}
		return memory.WriteFile("/"+path, data)
	})
	if err != nil {
		t.Fatal(err)
	}
	return memory
}

// build runs kustomize and returns each resource as YAML.
func build(t *testing.T, base string, components []string) [][]byte {
	t.Helper()
	memory := files(t)
	if len(components) > 0 {
		text := fmt.Sprintf("resources: [%s]\ncomponents: [%s]\n", base, strings.Join(components, ", "))
		text = strings.ReplaceAll(text, " /", " ../")
		text = strings.ReplaceAll(text, "[/", "[../")
		if err := memory.WriteFile("/with/kustomization.yaml", []byte(text)); err != nil {
			t.Fatal(err)
		}
		base = "/with"
	}
	made, err := krusty.MakeKustomizer(krusty.MakeDefaultOptions()).Run(memory, base)
	if err != nil {
		t.Fatal(err)
	}
	var docs [][]byte
	for _, r := range made.Resources() {
		data, err := r.AsYAML()
		if err != nil {
			t.Fatal(err)
		}
		docs = append(docs, data)
	}
	return docs
}

// decoder refuses fields that the API types do not have, and fields given twice.
func decoder(t *testing.T) runtime.Decoder {
	t.Helper()
	scheme := runtime.NewScheme()
	for _, add := range []func(*runtime.Scheme) error{
		apps.AddToScheme, autoscaling.AddToScheme, batch.AddToScheme, core.AddToScheme,
		networking.AddToScheme, policy.AddToScheme, certmanager.AddToScheme,
	} {
		if err := add(scheme); err != nil {
			t.Fatal(err)
		}
	}
	return serializer.NewCodecFactory(scheme, serializer.EnableStrict).UniversalDeserializer()
}

// decode reads every resource of an overlay strictly.
func decode(t *testing.T, docs [][]byte) []runtime.Object {
	t.Helper()
	d := decoder(t)
	var objects []runtime.Object
	for _, doc := range docs {
		o, _, err := d.Decode(doc, nil, nil)
		if err != nil {
			t.Errorf("%v in\n%s", err, doc)
			continue
		}
		objects = append(objects, o)
	}
	return objects
}

func TestStrictDecodeSeesAnUnknownField(t *testing.T) {
	_, _, err := decoder(t).Decode([]byte("apiVersion: apps/v1\nkind: Deployment\nspec: {replicaz: 1}\n"), nil, nil)
	if err == nil || !strings.Contains(err.Error(), "spec.replicaz") {
		t.Errorf("got %v", err)
	}
}

func TestManifests(t *testing.T) {
	for _, o := range overlays {
		t.Run(o.name, func(t *testing.T) {
			objects := decode(t, build(t, o.base, o.components))
			if len(objects) == 0 {
				t.Fatal("no resources")
			}
			checkPods(t, objects)
			checkSelectors(t, objects)
			checkConfigMaps(t, objects)
		})
	}
}

// pod is a pod template of a Deployment or a Job.
type pod struct {
	owner  string
	labels map[string]string
	spec   core.PodSpec
}

func pods(objects []runtime.Object) []pod {
	var found []pod
	for _, o := range objects {
		switch o := o.(type) {
		case *apps.Deployment:
			found = append(found, pod{o.Name, o.Spec.Template.Labels, o.Spec.Template.Spec})
		case *batch.Job:
			found = append(found, pod{o.Name, o.Spec.Template.Labels, o.Spec.Template.Spec})
		}
	}
	return found
}

// checkPods holds every pod to the restricted pod security level and to stated resources.
func checkPods(t *testing.T, objects []runtime.Object) {
	t.Helper()
	for _, p := range pods(objects) {
		s := p.spec.SecurityContext
		if s == nil || s.RunAsNonRoot == nil || !*s.RunAsNonRoot || s.SeccompProfile == nil {
			t.Errorf("%s: runs as root or without seccomp", p.owner)
		}
		if a := p.spec.AutomountServiceAccountToken; a == nil || *a {
			t.Errorf("%s: mounts a token that it does not need", p.owner)
		}
		for _, c := range p.spec.Containers {
			checkContainer(t, p, c)
		}
	}
}

func checkContainer(t *testing.T, p pod, c core.Container) {
	t.Helper()
	s := c.SecurityContext
	if s == nil || s.ReadOnlyRootFilesystem == nil || !*s.ReadOnlyRootFilesystem ||
		s.AllowPrivilegeEscalation == nil || *s.AllowPrivilegeEscalation ||
		s.Capabilities == nil || len(s.Capabilities.Drop) != 1 || s.Capabilities.Drop[0] != "ALL" {
		t.Errorf("%s/%s: not read-only and without privileges", p.owner, c.Name)
	}
	if c.Resources.Requests.Cpu().IsZero() || c.Resources.Requests.Memory().IsZero() || c.Resources.Limits.Memory().IsZero() {
		t.Errorf("%s/%s: no requests or no memory limit", p.owner, c.Name)
	}
	if p.spec.RestartPolicy != core.RestartPolicyNever && c.ReadinessProbe == nil {
		t.Errorf("%s/%s: no readiness probe", p.owner, c.Name)
	}
	for _, probe := range []*core.Probe{c.ReadinessProbe, c.LivenessProbe, c.StartupProbe} {
		if probe != nil && probe.HTTPGet != nil && !hasPort(c, probe.HTTPGet.Port.StrVal) {
			t.Errorf("%s/%s: probes port %s, which it does not have", p.owner, c.Name, probe.HTTPGet.Port.StrVal)
		}
	}
}

func hasPort(c core.Container, name string) bool {
	for _, p := range c.Ports {
		if p.Name == name {
			return true
		}
	}
	return false
}

// checkSelectors sees that whatever points at pods points at some.
func checkSelectors(t *testing.T, objects []runtime.Object) {
	t.Helper()
	for _, o := range objects {
		switch o := o.(type) {
		case *apps.Deployment:
			mustSelect(t, o.Name+" Deployment", o.Spec.Selector, objects)
			for _, c := range o.Spec.Template.Spec.TopologySpreadConstraints {
				mustSelect(t, o.Name+" topology spread", c.LabelSelector, objects)
			}
		case *core.Service:
			mustSelect(t, o.Name+" Service", &meta.LabelSelector{MatchLabels: o.Spec.Selector}, objects)
			checkServicePorts(t, o, objects)
		case *policy.PodDisruptionBudget:
			mustSelect(t, o.Name+" PodDisruptionBudget", o.Spec.Selector, objects)
		case *networking.NetworkPolicy:
			mustSelect(t, o.Name+" NetworkPolicy", &o.Spec.PodSelector, objects)
		case *autoscaling.HorizontalPodAutoscaler:
			if !hasDeployment(objects, o.Spec.ScaleTargetRef.Name) {
				t.Errorf("%s autoscaler: no Deployment %s", o.Name, o.Spec.ScaleTargetRef.Name)
			}
		}
	}
}

func selected(t *testing.T, s *meta.LabelSelector, objects []runtime.Object) []pod {
	t.Helper()
	selector, err := meta.LabelSelectorAsSelector(s)
	if err != nil {
		t.Fatal(err)
	}
	var found []pod
	for _, p := range pods(objects) {
		if selector.Matches(labels.Set(p.labels)) {
			found = append(found, p)
		}
	}
	return found
}

func mustSelect(t *testing.T, who string, s *meta.LabelSelector, objects []runtime.Object) {
	t.Helper()
	if n := len(selected(t, s, objects)); n != 1 {
		t.Errorf("%s selects %d kinds of pods, want 1", who, n)
	}
}

func checkServicePorts(t *testing.T, s *core.Service, objects []runtime.Object) {
	t.Helper()
	for _, p := range selected(t, &meta.LabelSelector{MatchLabels: s.Spec.Selector}, objects) {
		for _, port := range s.Spec.Ports {
			if !hasPort(p.spec.Containers[0], port.TargetPort.StrVal) {
				t.Errorf("Service %s: port %s is not one of %s's", s.Name, port.TargetPort.StrVal, p.owner)
			}
		}
	}
}

func hasDeployment(objects []runtime.Object, name string) bool {
	for _, o := range objects {
		if d, ok := o.(*apps.Deployment); ok && d.Name == name {
			return true
		}
	}
	return false
}

// checkConfigMaps sees that the config maps that pods name are there.
func checkConfigMaps(t *testing.T, objects []runtime.Object) {
	t.Helper()
	there := map[string]bool{}
	for _, o := range objects {
		if c, ok := o.(*core.ConfigMap); ok {
			there[c.Name] = true
		}
	}
	for _, p := range pods(objects) {
		for _, v := range p.spec.Volumes {
			if v.ConfigMap != nil && !there[v.ConfigMap.Name] {
				t.Errorf("%s: no config map %s", p.owner, v.ConfigMap.Name)
			}
		}
		for _, c := range p.spec.Containers {
			for _, e := range c.EnvFrom {
				if e.ConfigMapRef != nil && !there[e.ConfigMapRef.Name] {
					t.Errorf("%s: no config map %s", p.owner, e.ConfigMapRef.Name)
				}
			}
		}
	}
}

// TestManyReplicas sees the parts that keep a practice alive while pods come and go.
func TestManyReplicas(t *testing.T) {
	objects := decode(t, build(t, "/overlays/many", nil))
	kinds := map[string]bool{}
	for _, o := range objects {
		kinds[o.GetObjectKind().GroupVersionKind().Kind] = true
		d, ok := o.(*apps.Deployment)
		if !ok || d.Name != "courtkin" {
			continue
		}
		if d.Spec.Replicas != nil {
			t.Error("replicas are set, against the autoscaler's")
		}
		if u := d.Spec.Strategy.RollingUpdate; u == nil || u.MaxUnavailable.IntValue() != 0 {
			t.Error("a rollout takes pods away before others are ready")
		}
		if len(d.Spec.Template.Spec.TopologySpreadConstraints) < 2 {
			t.Error("pods are not spread over zones and hosts")
		}
		if c := d.Spec.Template.Spec.Containers[0]; c.Lifecycle == nil || c.Lifecycle.PreStop == nil || c.Lifecycle.PreStop.Sleep == nil {
			t.Error("no pause before the stop")
		}
	}
	for _, want := range []string{"PodDisruptionBudget", "HorizontalPodAutoscaler", "NetworkPolicy"} {
		if !kinds[want] {
			t.Errorf("no %s", want)
		}
	}
}

// TestBatchShards sees that the number of shards is the same everywhere.
func TestBatchShards(t *testing.T) {
	for _, o := range decode(t, build(t, "/batch", nil)) {
		j, ok := o.(*batch.Job)
		if !ok {
			continue
		}
		want := fmt.Sprintf("--shard=$(SHARD)/%d", *j.Spec.Completions)
		if args := j.Spec.Template.Spec.Containers[0].Args; !strings.Contains(strings.Join(args, " "), want) {
			t.Errorf("arguments %q lack %s", args, want)
		}
	}
}
