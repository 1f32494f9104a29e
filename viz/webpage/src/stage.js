// The only owner of the 3D view: light, parts, camera. Everything outside is in vehicle axes and mm.

import {
  BackSide, Box3, BufferAttribute, CanvasTexture, Color, CylinderGeometry, DirectionalLight, Group,
  Mesh, MeshBasicMaterial, MeshStandardMaterial, NeutralToneMapping, PCFShadowMap, PerspectiveCamera, PlaneGeometry,
  PMREMGenerator, Raycaster, Scene, Sphere, SphereGeometry, Spherical, SRGBColorSpace, Vector3, WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { GLTFLoader } from 'three/addons/loaders/GLTFLoader.js';

const VIEW_ANGLE = 24, MARGIN = 1.1, SAMPLED = 80, GLASS = 0.1, PAD = 0.55;
// How far in m a joint's own hardware reaches, and the half height of what a close-up shows.
const JOINT = 0.05, CLOSE = 0.19;
const VIEWS = {
  corner: [0.74, 0.52, 0.43],
  front: [1, 0, 0.0001],
  side: [0, 1, 0.0001],
  top: [-0.0001, 0, 1],
  rear: [-0.8, 0.42, 0.42],
};
const calm = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

/** From vehicle axes in mm to those of the GLB: x left, y up, z forward, in m. */
const metres = ([x, y, z]) => new Vector3(y / 1000, z / 1000, x / 1000);
const direction = ([x, y, z]) => new Vector3(y, z, x).normalize();

export class Stage {
  constructor(canvas, onDraw) {
    this.canvas = canvas;
    this.onDraw = onDraw;
    this.renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true, powerPreference: 'high-performance' });
    this.renderer.debug.checkShaderErrors = false;
    this.renderer.outputColorSpace = SRGBColorSpace;
    this.renderer.toneMapping = NeutralToneMapping;
    this.renderer.toneMappingExposure = 1.0;
    this.renderer.shadowMap.enabled = true;
    this.renderer.shadowMap.type = PCFShadowMap;
    this.scene = new Scene();
    this.scene.environment = studio(this.renderer);
    this.scene.environmentIntensity = 0.85;
    this.lamp = lamp();
    this.scene.add(this.lamp, this.lamp.target);
    this.camera = new PerspectiveCamera(VIEW_ANGLE, 1, 0.02, 60);
    this.controls = new OrbitControls(this.camera, canvas);
    Object.assign(this.controls, {
      enableDamping: !calm(), dampingFactor: 0.12, minDistance: 0.25, maxPolarAngle: 0.8 * Math.PI, rotateSpeed: 0.8,
      zoomToCursor: false,
    });
    this.controls.addEventListener('change', () => this.draw());
    this.controls.addEventListener('start', () => { this.flight = null; });
    this.controls.addEventListener('end', () => this.clearView());
    new ResizeObserver(() => this.resize()).observe(canvas.parentElement);
    this.shown = null;
    this.target = null;
    this.kept = [];
    this.glassWheels = false;
    this.resize();
  }

  /** Shows a scene's model; the first one sets the camera. */
  show(model) {
    if (this.shown === model) return;
    if (this.shown) this.scene.remove(this.shown.root);
    const first = this.shown === null;
    this.shown = model;
    this.scene.add(model.root);
    this.fitLamp();
    if (first) this.look('corner', true);
    this.clearView();
    this.draw();
  }

  fitLamp() {
    const sphere = this.shown.bounds;
    const reach = 1.15 * sphere.radius, shadow = this.lamp.shadow.camera;
    this.lamp.target.position.copy(sphere.center);
    this.lamp.position.copy(sphere.center).addScaledVector(new Vector3(0.45, 1.0, 0.5).normalize(), 3 * reach);
    Object.assign(shadow, { left: -reach, right: reach, top: reach, bottom: -reach, near: reach, far: 5 * reach });
    shadow.updateProjectionMatrix();
    this.lamp.target.updateMatrixWorld();
    this.controls.maxDistance = 14 * sphere.radius;
  }

  resize() {
    const { clientWidth: width, clientHeight: height } = this.canvas.parentElement;
    if (!width || !height) return;
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    this.renderer.setSize(width, height, false);
    const before = this.camera.aspect;
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (this.view && this.shown && Math.abs(before - this.camera.aspect) > 0.01) this.look(this.view, true);
    this.draw();
  }

  /** Draws before the next frame, once. */
  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame((now) => {
      this.waiting = false;
      this.fly(now);
      if (this.controls.enableDamping) this.controls.update();
      this.renderer.render(this.scene, this.camera);
      this.onDraw();
    });
  }

  /** One of the plain views, with all of the model in frame. */
  look(view, atOnce = false) {
    this.view = view;
    this.target = null;
    this.kept = [];
    const to = direction(VIEWS[view]), { focus, distance } = this.framed(to);
    this.flyTo(focus, focus.clone().addScaledVector(to, distance), atOnce);
    this.clearView();
  }

  /** What the camera looks at, and from how far, so that the whole model is just in frame (viz/views.py, perspective). */
  framed(to) {
    const up = Math.abs(to.y) > 0.99 ? new Vector3(0, 0, 1) : new Vector3(0, 1, 0);
    const right = up.clone().cross(to).normalize(), rise = to.clone().cross(right);
    const slope = Math.tan((VIEW_ANGLE * Math.PI) / 360) / MARGIN, middle = this.shown.bounds.center;
    const focus = middle.clone();
    let distance = 0;
    for (const [axis, tangent] of [[right, slope * this.camera.aspect], [rise, slope]]) {
      let high = -Infinity, low = -Infinity;
      for (const corner of this.shown.corners) {
        const seen = corner.clone().sub(middle), along = seen.dot(axis) / tangent, depth = seen.dot(to);
        high = Math.max(high, along + depth);
        low = Math.max(low, -along + depth);
      }
      focus.addScaledVector(axis, 0.5 * tangent * (high - low));
      distance = Math.max(distance, 0.5 * (high + low));
    }
    return { focus, distance };
  }

  /** Flies to a place (mm) from where least hides it; what is still in the way turns to glass, but for what is `kept`. */
  lookAt(at, kept) {
    this.view = null;
    this.kept = kept;
    const place = metres(at);
    this.target = place;
    const distance = CLOSE / Math.tan((VIEW_ANGLE * Math.PI) / 360) / Math.min(1, this.camera.aspect);
    const to = this.clearest(place);
    this.flyTo(place, place.clone().addScaledVector(to, distance), false);
  }

  flyTo(focus, position, atOnce) {
    const from = { focus: this.controls.target.clone(), position: this.camera.position.clone() };
    this.flight = { from, focus: focus.clone(), position: position.clone(), start: null, time: atOnce || calm() ? 0 : 650 };
    this.draw();
  }

  fly(now) {
    const flight = this.flight;
    if (!flight) return;
    flight.start ??= now;
    const share = flight.time ? Math.min((now - flight.start) / flight.time, 1) : 1;
    const eased = share * share * (3 - 2 * share);
    this.controls.target.lerpVectors(flight.from.focus, flight.focus, eased);
    // Around the focus rather than straight through the parts.
    const offset = between(flight.from.position.clone().sub(flight.from.focus), flight.position.clone().sub(flight.focus), eased);
    this.camera.position.copy(this.controls.target).add(offset);
    this.camera.lookAt(this.controls.target);
    if (share >= 1) {
      this.flight = null;
      this.controls.update();
      this.clearView();
    } else this.draw();
  }

  /** The direction from which a place is hidden least; of equals, the nearest to where the camera is. */
  clearest(place) {
    const now = this.camera.position.clone().sub(this.controls.target).normalize();
    let best = null, bestScore = Infinity;
    for (const rise of [0.3, 0.75, -0.25]) {
      for (let turn = 0; turn < 12; turn++) {
        const angle = (turn * Math.PI) / 6;
        const to = new Vector3(Math.sin(angle) * Math.cos(rise), Math.sin(rise), Math.cos(angle) * Math.cos(rise));
        const hidden = this.between(place, to, 3, true).length;
        const score = hidden + 0.35 * (1 - to.dot(now)) + 0.4 * Math.abs(rise - 0.3);
        if (score < bestScore) [best, bestScore] = [to, score];
      }
    }
    return best;
  }

  /** Labels of what lies between a place and `reach` m towards `to`, beyond the joint itself. */
  between(place, to, reach, solidOnly = false) {
    const rays = new Raycaster(), found = new Set();
    const meshes = this.shown.meshes.filter((mesh) => !solidOnly || !this.shown.wheelLabels.has(mesh.userData.label));
    const across = new Vector3(0.3, 1, 0.2).cross(to).normalize(), other = to.clone().cross(across);
    for (const [u, v] of [[0, 0], [1, 0], [-0.5, 0.9], [-0.5, -0.9]]) {
      const start = place.clone().addScaledVector(across, 0.6 * JOINT * u).addScaledVector(other, 0.6 * JOINT * v);
      rays.set(start.addScaledVector(to, JOINT), to);
      rays.far = reach - JOINT;
      for (const hit of rays.intersectObjects(meshes, false)) found.add(hit.object.userData.label);
    }
    return [...found];
  }

  /** Turns to glass what hides the place that is looked at, and the wheels where that is asked for. */
  clearView() {
    if (!this.shown) return;
    // In a close-up a wheel is all around.
    const glass = new Set(this.glassWheels || this.target ? this.shown.wheelLabels : []);
    if (this.target && !this.flight) {
      const offset = this.camera.position.clone().sub(this.target), reach = offset.length();
      for (const label of this.between(this.target, offset.normalize(), reach)) glass.add(label);
    } else if (this.target) return;
    for (const mesh of this.shown.meshes) {
      const clear = glass.has(mesh.userData.label) && !this.kept.includes(mesh.userData.label);
      if (mesh.userData.clear === clear) continue;
      mesh.userData.clear = clear;
      Object.assign(mesh.material, { transparent: clear, opacity: clear ? GLASS : 1, depthWrite: !clear, needsUpdate: true });
      mesh.castShadow = !clear;
    }
    this.draw();
  }

  /** Turns the camera about its focus by angles in rad, and moves it in or out. */
  turn(around, over, zoom = 1) {
    this.flight = null;
    const offset = this.camera.position.clone().sub(this.controls.target);
    const ball = new Spherical().setFromVector3(offset);
    ball.theta += around;
    ball.phi = Math.min(Math.max(ball.phi + over, 0.02), this.controls.maxPolarAngle);
    ball.radius = Math.min(Math.max(ball.radius * zoom, this.controls.minDistance), this.controls.maxDistance);
    this.camera.position.copy(this.controls.target).add(offset.setFromSpherical(ball));
    this.controls.update();
    this.clearView();
    this.draw();
  }

  /** Where a place (mm) is in the view, px from its upper left corner; null behind the camera. */
  project(at) {
    const seen = metres(at).project(this.camera);
    if (seen.z > 1) return null;
    const { clientWidth: width, clientHeight: height } = this.canvas;
    return [(0.5 + 0.5 * seen.x) * width, (0.5 - 0.5 * seen.y) * height];
  }
}

/** The offset on the way from one to another: its direction turns evenly, its length grows evenly. */
function between(from, to, share) {
  const size = from.length() + share * (to.length() - from.length());
  const one = from.clone().normalize(), other = to.clone().normalize(), angle = one.angleTo(other);
  if (angle < 1e-3 || angle > 3.1) return one.lerp(other, share).normalize().multiplyScalar(size);
  const along = Math.sin((1 - share) * angle) / Math.sin(angle), rest = Math.sin(share * angle) / Math.sin(angle);
  return one.multiplyScalar(along).addScaledVector(other, rest).normalize().multiplyScalar(size);
}

/** A soft room made by code: bright above, a quiet horizon, a darker floor, and three large lamps. */
function studio(renderer) {
  const room = new Scene(), ball = new SphereGeometry(10, 48, 32);
  const heights = ball.attributes.position, colours = new Float32Array(heights.count * 3);
  for (let k = 0; k < heights.count; k++) {
    const height = heights.getY(k) / 10;
    const light = height > 0 ? 0.55 + 0.55 * height : 0.4 + 0.2 * height;
    colours.set([0.98 * light, light, 1.03 * light], 3 * k);
  }
  ball.setAttribute('color', new BufferAttribute(colours, 3));
  room.add(new Mesh(ball, new MeshBasicMaterial({ vertexColors: true, side: BackSide })));
  for (const [at, width, height, strength] of [
    [[4.5, 6.5, 5], 5, 4, 4.5], [[-6.5, 3, 4], 3.5, 4, 1.8], [[-2, 5, -7], 6, 2.5, 3],
  ]) {
    const panel = new Mesh(new PlaneGeometry(width, height), new MeshBasicMaterial({ color: new Color().setScalar(strength), side: 2 }));
    panel.position.set(...at);
    panel.lookAt(0, 0, 0);
    room.add(panel);
  }
  const maker = new PMREMGenerator(renderer);
  const map = maker.fromScene(room, 0.03).texture;
  maker.dispose();
  return map;
}

function lamp() {
  const light = new DirectionalLight(0xfffaf2, 1.5);
  light.castShadow = true;
  light.shadow.mapSize.set(2048, 2048);
  light.shadow.bias = -0.0004;
  light.shadow.normalBias = 0.002;
  light.shadow.radius = 5;
  return light;
}

/** A dark patch that fades to nothing at its edge. */
function softShadow() {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = 64;
  const brush = canvas.getContext('2d'), fade = brush.createRadialGradient(32, 32, 0, 32, 32, 32);
  [[0, 0.5], [0.35, 0.34], [0.7, 0.1], [1, 0]].forEach(([at, alpha]) => fade.addColorStop(at, `rgba(20, 24, 30, ${alpha})`));
  brush.fillStyle = fade;
  brush.fillRect(0, 0, 64, 64);
  return new CanvasTexture(canvas);
}

/** The parts of one scene. */
export class Model {
  static async made(glb, data) {
    const gltf = await new GLTFLoader().parseAsync(glb, '');
    return new Model(gltf, data);
  }

  constructor(gltf, data) {
    this.data = data;
    this.root = new Group();
    this.root.add(gltf.scene);
    this.nodes = [];
    for (const [thing, { nodes }] of gltf.parser.associations) {
      if (nodes !== undefined && thing.isObject3D) this.nodes[nodes] ??= thing;
    }
    this.wheelLabels = new Set(data.wheels.map((wheel) => wheel.label));
    this.meshes = [];
    const done = new Set();
    gltf.scene.traverse((thing) => {
      if (!thing.isMesh) return;
      const { geometry } = thing;
      if (!done.has(geometry)) {
        geometry.computeVertexNormals();
        done.add(geometry);
      }
      const { color, metalness, roughness, opacity, name } = thing.material;
      thing.material = new MeshStandardMaterial({ color, metalness, roughness, opacity, name });
      thing.castShadow = thing.receiveShadow = true;
      thing.frustumCulled = false;
      thing.userData.label = this.labelOf(thing);
      this.meshes.push(thing);
    });
    this.morphing = data.pliants.map((pliant) => {
      const meshes = [];
      this.nodes[pliant.node].traverse((thing) => { if (thing.morphTargetInfluences) meshes.push(thing); });
      return { node: pliant.node, meshes };
    });
    this.pads = data.wheels.map((wheel) => this.pad(wheel));
  }

  labelOf(thing) {
    for (let up = thing; up; up = up.parent) {
      const number = this.nodes.indexOf(up);
      if (number >= 0 && number < this.data.labels.length) return this.data.labels[number];
    }
    return '';
  }

  pad({ radius, width }) {
    const pad = new Group(), size = (PAD * radius) / 1000, depth = (0.035 * radius) / 1000;
    const disc = new Mesh(new CylinderGeometry(size, size, depth, 72), new MeshStandardMaterial({ color: 0xb9c3cd, roughness: 0.75 }));
    disc.position.y = -0.5 * depth;
    disc.receiveShadow = true;
    const shade = new Mesh(new PlaneGeometry((1.5 * width) / 1000, (1.15 * radius) / 1000),
      new MeshBasicMaterial({ map: softShadow(), transparent: true, depthWrite: false }));
    shade.rotation.x = -0.5 * Math.PI;
    shade.position.y = 0.0008;
    pad.add(disc, shade);
    this.root.add(pad);
    return pad;
  }

  /** Moves every part to a pose. */
  stand({ nodes, places }, pointOn) {
    for (const { node, at, turn } of nodes) {
      this.nodes[node].position.copy(metres(at));
      this.nodes[node].quaternion.set(turn[1], turn[2], turn[0], turn[3]);
    }
    const weights = new Map(nodes.filter((one) => one.weights).map((one) => [one.node, one.weights]));
    for (const { node, meshes } of this.morphing) {
      for (const mesh of meshes) weights.get(node).forEach((weight, k) => { mesh.morphTargetInfluences[k] = weight; });
    }
    this.data.wheels.forEach((wheel, k) => {
      const [x, y, z] = pointOn(places.get(wheel.part), wheel.at);
      this.pads[k].position.copy(metres([x, y, z - wheel.radius]));
    });
    this.root.updateMatrixWorld(true);
  }

  /** The sphere and the corners that the camera keeps in frame: the parts as they stand, wheels with `room` mm more. */
  measure(room) {
    const whole = new Box3();
    this.corners = [];
    for (const mesh of this.meshes) {
      const { position } = mesh.geometry.attributes, step = Math.max(1, Math.floor(position.count / SAMPLED));
      const heights = this.wheelLabels.has(mesh.userData.label) ? [-room / 1000, room / 1000] : [0];
      for (let k = 0; k < position.count; k += step) {
        for (const height of heights) {
          const at = mesh.getVertexPosition(k, new Vector3()).applyMatrix4(mesh.matrixWorld);
          at.y += height;
          whole.expandByPoint(at);
          this.corners.push(at);
        }
      }
    }
    this.bounds = whole.getBoundingSphere(new Sphere());
  }
}
