/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include <fcl/broadphase/broadphase_dynamic_AABB_tree.h>
#include <fcl/broadphase/default_broadphase_callbacks.h>
#include <fcl/config.h>
#include <fcl/narrowphase/detail/gjk_solver_libccd.h>
#include <fcl/narrowphase/distance.h>

#include "tests/bench/policy/other.h"

using Geometry = std::shared_ptr<fcl::CollisionGeometryd>;
using Object = std::unique_ptr<fcl::CollisionObjectd>;
using Vector = fcl::Vector3d;

struct other_solid {
    Object object;              /* none: a triangle */
    std::vector<Vector> corner; /* of it */
    double radius = 0;          /* of the ball around it */
};

struct other_room {
    std::vector<Object> still;
    fcl::DynamicAABBTreeCollisionManagerd tree;
    volume_outline outline;
    Object body, boom;
};

namespace
{

Vector vector_of(const vec3 &p)
{
    return {p.x, p.y, p.z};
}

/* FCL's stands about its middle along z. */
Object capsule(const vec3 &a, const vec3 &b, double radius)
{
    Vector from = vector_of(a), way = vector_of(b) - from;
    fcl::Transform3d pose = fcl::Transform3d::Identity();
    pose.translation() = from + way / 2;
    if (way.norm() > 0)
        pose.linear() = Eigen::Quaterniond::FromTwoVectors(Vector::UnitZ(), way).toRotationMatrix();
    return std::make_unique<fcl::CollisionObjectd>(std::make_shared<fcl::Capsuled>(radius, way.norm()), pose);
}

Object sphere(const vec3 &centre, double radius)
{
    return std::make_unique<fcl::CollisionObjectd>(std::make_shared<fcl::Sphered>(radius), fcl::Matrix3d::Identity(),
                                                   vector_of(centre));
}

Object box(const shape_block &block)
{
    fcl::Matrix3d turn;
    turn << vector_of(block.axis[0]), vector_of(block.axis[1]), vector_of(block.axis[2]);
    return std::make_unique<fcl::CollisionObjectd>(
        std::make_shared<fcl::Boxd>(2 * block.half.x, 2 * block.half.y, 2 * block.half.z), turn,
        vector_of(block.centre));
}

/* Bottom and top, then the walls; seen from outside each is counter-clockwise. */
Object prism(const hull &piece)
{
    int n = piece.points;
    auto corner = std::make_shared<std::vector<Vector>>();
    auto face = std::make_shared<std::vector<int>>();
    for (int i = 0; i < 2 * n; i++)
        corner->push_back(vector_of(piece.point[i % n]) + Vector(0, 0, i < n ? 0 : piece.tall_m));
    face->push_back(n);
    for (int i = 0; i < n; i++)
        face->push_back(n - 1 - i);
    face->push_back(n);
    for (int i = 0; i < n; i++)
        face->push_back(n + i);
    for (int i = 0; i < n; i++) {
        int next = (i + 1) % n;
        face->insert(face->end(), {4, i, next, n + next, n + i});
    }
    return std::make_unique<fcl::CollisionObjectd>(std::make_shared<fcl::Convexd>(corner, n + 2, face));
}

Object object_of(const shape &s, const hull &piece)
{
    switch (s.kind) {
    case SHAPE_BOX:
        return box(s.as.block);
    case SHAPE_SPHERE:
        return sphere(s.as.sphere.centre, s.as.sphere.radius_m);
    case SHAPE_CAPSULE:
        return capsule(s.as.capsule.a, s.as.capsule.b, s.as.capsule.radius_m);
    default:
        return prism(piece);
    }
}

template <typename Shape> double from_triangle(const other_solid &triangle, const fcl::CollisionObjectd &to)
{
    static const fcl::detail::GJKSolver_libccdd solver;
    double d = 0;
    auto shape = static_cast<const Shape *>(to.collisionGeometry().get());
    bool apart = solver.shapeTriangleDistance(*shape, to.getTransform(), triangle.corner[0], triangle.corner[1],
                                              triangle.corner[2], &d);
    return (apart ? d : 0) - triangle.radius;
}

double triangle_distance(const other_solid &triangle, const fcl::CollisionObjectd &to)
{
    switch (to.getNodeType()) {
    case fcl::GEOM_BOX:
        return from_triangle<fcl::Boxd>(triangle, to);
    case fcl::GEOM_SPHERE:
        return from_triangle<fcl::Sphered>(triangle, to);
    case fcl::GEOM_CAPSULE:
        return from_triangle<fcl::Capsuled>(triangle, to);
    default:
        return from_triangle<fcl::Convexd>(triangle, to);
    }
}

} // namespace

const char *other_name(void)
{
    return "FCL " FCL_VERSION;
}

other_solid *other_shape_new(const shape *s, const hull *piece)
{
    auto solid = new other_solid;
    solid->object = object_of(*s, *piece);
    return solid;
}

other_solid *other_moving_new(const hull *moving)
{
    auto solid = new other_solid;
    if (moving->points == 1)
        solid->object = sphere(moving->point[0], moving->ball_m);
    else if (moving->points == 2)
        solid->object = capsule(moving->point[0], moving->point[1], moving->ball_m);
    for (int i = 0; i < moving->points; i++)
        solid->corner.push_back(vector_of(moving->point[i]));
    solid->radius = moving->ball_m;
    return solid;
}

void other_solid_free(other_solid *solid)
{
    delete solid;
}

double other_distance(const other_solid *a, const other_solid *b)
{
    if (!a->object)
        return triangle_distance(*a, *b->object);
    static const fcl::DistanceRequestd request;
    fcl::DistanceResultd result;
    return fcl::distance(a->object.get(), b->object.get(), request, result);
}

other_room *other_room_new(const volume *vol)
{
    auto room = new other_room;
    room->outline = vol->outline;
    for (int i = 0; i < vol->pieces; i++)
        room->still.push_back(object_of(vol->keepout[vol->piece_of[i]].shape, vol->piece[i]));
    for (auto &object : room->still)
        room->tree.registerObject(object.get());
    room->tree.setup();
    return room;
}

void other_room_free(other_room *room)
{
    delete room;
}

double other_room_clearance(other_room *room, vec3 position)
{
    const volume_outline &o = room->outline;
    vec3 low = {position.x, position.y, position.z - o.boom_m};
    fcl::DefaultDistanceData<double> data;
    auto meet = [&](const Object &part) {
        part->computeAABB();
        data.done = false;
        room->tree.distance(part.get(), &data, fcl::DefaultDistanceFunction);
    };
    meet(sphere(low, o.limb[0].radius_m));
    meet(capsule(low, position, o.boom_radius_m));
    for (int i = 0; i < o.cords; i++)
        meet(capsule(position, o.anchor[i], o.cord_radius_m));
    return data.result.min_distance;
}
