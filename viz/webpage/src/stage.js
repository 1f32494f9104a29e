// The only owner of the 3D view: light, parts, camera. Everything outside is in vehicle axes and mm.

import {
  LinearToneMapping, PCFShadowMap, PerspectiveCamera, Raycaster, Scene, Spherical, SRGBColorSpace, Vector3, WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { lamp, studio } from './light.js';
import { metres } from './model.js';

const VIEW_ANGLE = 24, MARGIN = 1.1, GLASS = 0.1;
// How far in m a joint's own hardware reaches, how much about its middle had better be seen, and the half height of what a
// close-up shows; the last two for a gap, which is looked at square to its line.
const JOINT = 0.05, SEEN = 0.06, CLOSE = 0.27, GAP_SEEN = 0.015, GAP_CLOSE = 0.14;
const VIEWS = {
  'three-quarter': [0.74, 0.52, 0.43],
  front: [1, 0, 0.0001],
  side: [0, 1, 0.0001],
  top: [-0.0001, 0, 1],
  rear: [-0.8, 0.42, 0.42],
};
// A disc of rays as shares of its radius: its middle and two rings.
const DISC = [[0, 0], ...[0.5, 1].flatMap((size) => [0, 1, 2, 3, 4].map((k) => {
  const angle = (2 * Math.PI * (k + size)) / 5;
  return [size * Math.cos(angle), size * Math.sin(angle)];
}))];
const calm = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

const direction = ([x, y, z]) => new Vector3(y, z, x).normalize();

export class Stage {
  /** `plain`: without shadows and smooth edges, for slow machines and for tests. */
  constructor(canvas, onDraw, plain = false) {
    this.canvas = canvas;
    this.plain = plain;
    this.onDraw = onDraw;
    this.renderer = new WebGLRenderer({ canvas, antialias: !plain, alpha: true, powerPreference: 'high-performance' });
    this.renderer.debug.checkShaderErrors = false;
    this.renderer.outputColorSpace = SRGBColorSpace;
    this.renderer.toneMapping = LinearToneMapping;
    this.renderer.toneMappingExposure = 0.92;
    this.renderer.shadowMap.enabled = !plain;
    this.renderer.shadowMap.type = PCFShadowMap;
    this.scene = new Scene();
    this.scene.environment = studio(this.renderer);
    this.scene.environmentIntensity = 1.1;
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
    if (first) this.look('three-quarter', true);
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
    this.renderer.setPixelRatio(this.plain ? 0.5 : Math.min(window.devicePixelRatio || 1, 2));
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

  /**
   * Flies to a place (mm) from where least hides it; what is still in the way turns to glass, but for what is `kept`.
   * `ends` are the two points of a gap.
   */
  lookAt(at, kept, ends = null) {
    this.view = null;
    this.kept = kept;
    const place = metres(at);
    this.target = place;
    const along = ends && metres(ends[1]).sub(metres(ends[0])).normalize();
    const distance = (ends ? GAP_CLOSE : CLOSE) / Math.tan((VIEW_ANGLE * Math.PI) / 360) / Math.min(1, this.camera.aspect);
    const to = this.clearest(place, along);
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

  /** The direction from which a place is hidden least, square to a line `along`; of equals, the nearest to the camera's. */
  clearest(place, along) {
    const now = this.camera.position.clone().sub(this.controls.target).normalize();
    const meshes = this.shown.meshes.filter((mesh) => !this.shown.wheelLabels.has(mesh.userData.label));
    let best = null, bestScore = Infinity;
    for (const rise of [0.3, 0.75, -0.2]) {
      for (let turn = 0; turn < 12; turn++) {
        const angle = (turn * Math.PI) / 6;
        const to = new Vector3(Math.sin(angle) * Math.cos(rise), Math.sin(rise), Math.cos(angle) * Math.cos(rise));
        const hits = this.rays(place, to, DISC, ...(along ? [GAP_SEEN, 0] : [SEEN, 0.6 * JOINT]), 3, meshes);
        const hidden = hits.filter((hit) => hit.length).length;
        // What only stands about is looked past; what hides the middle is worse than what hides the rim.
        const score = (4 * hidden) / DISC.length + (hits[0].length ? 1 : 0) + 0.3 * (1 - to.dot(now)) + 0.4 * Math.abs(rise - 0.3);
        const slant = along ? 3 * Math.abs(along.dot(to)) : 0;
        if (score + slant < bestScore) [best, bestScore] = [to, score + slant];
      }
    }
    return best;
  }

  /** What rays towards `to` hit, from `start` m to `reach` m away from a disc of some `size` about a place, ray by ray. */
  rays(place, to, disc, size, start, reach, meshes) {
    const caster = new Raycaster();
    const across = new Vector3(0.3, 1, 0.2).cross(to).normalize(), other = to.clone().cross(across);
    caster.near = start;
    caster.far = reach;
    return disc.map(([u, v]) => {
      caster.set(place.clone().addScaledVector(across, size * u).addScaledVector(other, size * v), to);
      return caster.intersectObjects(meshes, false);
    });
  }

  /** Labels of what lies between a place and `reach` m towards `to`, beyond the joint itself. */
  between(place, to, reach) {
    const hits = this.rays(place, to, [[0, 0], [1, 0], [-0.5, 0.9], [-0.5, -0.9]], 0.6 * JOINT, JOINT, reach, this.shown.meshes);
    return [...new Set(hits.flat().map((hit) => hit.object.userData.label))];
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
